"""Run a real IMAP server on a high port, without rights, with mailboxes in a folder of its own."""

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

USER, PASSWORD = "intake", "word-for-tests"
# Written for Dovecot 2.3 (Debian 12) and 2.4 (Debian 13), whose settings have other names.
_COMMON = """
base_dir = {folder}/run
log_path = {folder}/log
protocols = imap
listen = 127.0.0.1
ssl = no
default_login_user = {user}
default_internal_user = {user}
default_internal_group = {group}
service imap-login {{
  chroot =
  inet_listener imap {{
    port = {port}
  }}
  inet_listener imaps {{
    port = 0
  }}
}}
service anvil {{
  chroot =
}}
service stats {{
  chroot =
}}
"""
_OLD = """
disable_plaintext_auth = no
auth_mechanisms = plain login
mail_location = maildir:{folder}/mail
first_valid_uid = 0
passdb {{
  driver = static
  args = password={password}
}}
userdb {{
  driver = static
  args = uid={uid} gid={gid} home={folder} allow_all_users=yes
}}
"""
_NEW = """
auth_allow_cleartext = yes
auth_mechanisms = plain login
mail_driver = maildir
mail_path = {folder}/mail
first_valid_uid = 0
passdb static {{
  password = {password}
}}
userdb static {{
  fields {{
    uid = {uid}
    gid = {gid}
    home = {folder}
  }}
}}
"""


def find() -> str | None:
    """Find Dovecot's binary, which Debian keeps out of a plain user's path."""
    return shutil.which("dovecot", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")


def free_port() -> int:
    """Find a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def running(binary: str) -> Iterator[tuple[int, Path]]:
    """Run Dovecot; answer its port and the Maildir that it serves."""
    # A short path: sockets may have 108 characters. Readable by the user that Dovecot becomes.
    with tempfile.TemporaryDirectory(prefix="dc", dir="/tmp") as name:
        folder = Path(name)
        uid, gid, user, group = _whom()
        os.chown(folder, uid, gid)
        port = free_port()
        version = subprocess.run([binary, "--version"], capture_output=True, text=True, check=True)
        is_new = version.stdout.startswith("2.4")
        said = {
            "folder": folder,
            "port": port,
            "uid": uid,
            "gid": gid,
            "user": user,
            "group": group,
            "password": PASSWORD,
        }
        number = version.stdout.split()[0]
        head = f"dovecot_config_version = {number}\ndovecot_storage_version = {number}\n"
        conf = folder / "dovecot.conf"
        conf.write_text(
            (head if is_new else "") + (_COMMON + (_NEW if is_new else _OLD)).format(**said)
        )
        for part in ("", "/cur", "/new", "/tmp"):
            (folder / f"mail{part}").mkdir(mode=0o777)
            os.chown(folder / f"mail{part}", uid, gid)
            (folder / f"mail{part}").chmod(0o777)
        as_user = {"user": uid, "group": gid} if os.getuid() == 0 else {}
        server = subprocess.Popen(
            [binary, "-F", "-c", str(conf)], stderr=subprocess.PIPE, text=True, **as_user
        )
        try:
            _wait(server, port, folder)
            yield port, folder / "mail"
        finally:
            server.terminate()
            server.wait(20)
            if server.stderr:
                server.stderr.close()


def _whom() -> tuple[int, int, str, str]:
    """Give the user that Dovecot runs as: this one, or nobody in place of root."""
    import grp
    import pwd

    uid = os.getuid() or pwd.getpwnam("nobody").pw_uid
    person = pwd.getpwuid(uid)
    return uid, person.pw_gid, person.pw_name, grp.getgrgid(person.pw_gid).gr_name


def _wait(server: "subprocess.Popen[str]", port: int, folder: Path) -> None:
    until = time.monotonic() + 15
    while time.monotonic() < until:
        if server.poll() is not None:
            complaint = server.stderr.read() if server.stderr else ""
            raise RuntimeError(f"Dovecot did not start: {complaint}")
        try:
            with socket.create_connection(("127.0.0.1", port), timeout=2) as there:
                if there.recv(64).startswith(b"* OK"):
                    return
        except OSError:
            time.sleep(0.1)
    log = folder / "log"
    raise RuntimeError(f"Dovecot does not answer: {log.read_text() if log.exists() else ''}")
