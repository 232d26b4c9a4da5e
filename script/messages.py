"""Extract, compile and compare the catalogues; see script/messages.

`django.po` holds pages and mails and becomes `django.mo`, as gettext reads it. `field.po` holds the
tablet's app and becomes `static/field/words/<language>.json`, which the app keeps with itself.
"""

import ast
import json
import os
import shutil
import struct
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from script.words import collect

ROOT = Path(__file__).resolve().parent.parent
LOCALES = ("en_GB", "fr_CA", "es", "de")
JSON_AT = ROOT / "static" / "field" / "words"
_MAGIC = 0x950412DE
#: Between context and text, and between a text and its plural (GNU gettext's manual, "The Format
#: of GNU MO Files").
_CONTEXT, _PLURAL = "\x04", "\x00"


class Unreadable(ValueError):
    """A line of a catalogue is none that gettext knows."""


def read_po(text: str) -> dict[str, str]:
    """Read a catalogue: what is translated and not fuzzy, as a .mo holds it."""
    found: dict[str, str] = {}
    for block in text.split("\n\n"):
        entry, is_fuzzy = _read_block(block)
        if "msgid" not in entry or (is_fuzzy and entry["msgid"]):
            continue
        forms = [entry[key] for key in sorted(entry) if key.startswith("msgstr")]
        if not all(forms):
            continue
        key = entry["msgid"]
        if "msgid_plural" in entry:
            key += _PLURAL + entry["msgid_plural"]
        if "msgctxt" in entry:
            key = entry["msgctxt"] + _CONTEXT + key
        found[key] = _PLURAL.join(forms)
    return found


def _read_block(block: str) -> tuple[dict[str, str], bool]:
    entry: dict[str, str] = {}
    now, is_fuzzy = "", False
    for line in block.splitlines():
        if line.startswith("#"):
            is_fuzzy = is_fuzzy or (line.startswith("#,") and "fuzzy" in line)
        elif line.startswith('"') and now:
            entry[now] += ast.literal_eval(line)
        elif line.startswith("msg"):
            now, _, quoted = line.partition(" ")
            entry[now] = ast.literal_eval(quoted)
        elif line.strip():
            raise Unreadable(f"No line of a catalogue: {line!r}")
    return entry, is_fuzzy


def write_mo(messages: dict[str, str]) -> bytes:
    """Write a catalogue as gettext reads it: two sorted tables, then the texts."""
    pairs = sorted((key.encode(), said.encode()) for key, said in messages.items())
    head = 7 * 4
    at = head + 2 * 8 * len(pairs)
    tables, texts = [b"", b""], b""
    for place in (0, 1):
        for pair in pairs:
            tables[place] += struct.pack("<II", len(pair[place]), at + len(texts))
            texts += pair[place] + b"\0"
    counts = (0, len(pairs), head, head + 8 * len(pairs), 0, at)
    return struct.pack("<I6I", _MAGIC, *counts) + tables[0] + tables[1] + texts


def write_json(messages: dict[str, str], language: str) -> bytes:
    """Write a catalogue as the tablet's app reads it: a text, or a list of its plural forms."""
    words = {
        key.partition(_PLURAL)[0]: said.split(_PLURAL) if _PLURAL in key else said
        for key, said in sorted(messages.items())
        if key
    }
    told = {"language": language, "words": words}
    return (json.dumps(told, ensure_ascii=False, indent=0, sort_keys=True) + "\n").encode()


def compiled() -> Iterator[tuple[Path, bytes]]:
    """Give each compiled file with what it has to hold."""
    for locale in LOCALES:
        folder = ROOT / "locale" / locale / "LC_MESSAGES"
        yield folder / "django.mo", write_mo(read_po((folder / "django.po").read_text()))
        language = locale.replace("_", "-").lower()
        messages = read_po((folder / "field.po").read_text())
        yield JSON_AT / f"{language}.json", write_json(messages, language)


def extract() -> None:
    """Bring the catalogues up to what is marked; translations stay."""
    # Python's own words, gathered for xgettext under the names of their modules, and taken away.
    gathered = ROOT / "contractor" / "gathered_words.py"
    lines = [
        f"gettext({text!r})  # {module}"
        for module, texts in collect(ROOT).items()
        for text in texts
    ]
    gathered.write_text("\n".join(lines) + "\n")
    try:
        _extract_pages()
    finally:
        gathered.unlink()
    _extract_tablet()


def _extract_pages() -> None:
    os.environ |= {"SECRET_KEY": "x", "DATABASE_URL": "postgresql://a@/x", "REDIS_URL": "redis://x"}
    os.environ["DJANGO_SETTINGS_MODULE"] = "contractor.settings"
    import django
    from django.core.management import call_command
    from django.core.management.commands.makemessages import Command

    django.setup()
    command = Command()
    # What is only like a translated text gets no translation by guess.
    command.msgmerge_options = [*command.msgmerge_options, "--no-fuzzy-matching"]
    call_command(
        command,
        locale=list(LOCALES),
        no_wrap=True,
        add_location="file",
        no_obsolete=True,
        ignore_patterns=["tests", "static*", "var", "docs", "script"],
    )


def _extract_tablet() -> None:
    sources = sorted(str(path.relative_to(ROOT)) for path in ROOT.glob("static/field/**/*.js"))
    keywords = [f"--keyword={one}" for one in ("", "t", "mark", "rich", "many:1,2")]
    with tempfile.TemporaryDirectory() as aside:
        template = str(Path(aside) / "field.pot")
        command = ["xgettext", "--language=JavaScript", "--from-code=UTF-8", *keywords]
        command += ["--no-wrap", "--add-location=file", "--force-po", "-o", template, *sources]
        subprocess.run(command, cwd=ROOT, check=True)
        for locale in LOCALES:
            kept = ROOT / "locale" / locale / "LC_MESSAGES" / "field.po"
            merge = ["msgmerge", "--quiet", "--no-wrap", "--no-fuzzy-matching", "--update"]
            merge += ["--backup=none", "--add-location=file", str(kept), template]
            subprocess.run(merge, check=True)
            tidy = ["msgattrib", "--no-obsolete", "--no-wrap", "-o", str(kept), str(kept)]
            subprocess.run(tidy, check=True)
            _without_dates(kept)
            _without_dates(kept.with_name("django.po"))


def _without_dates(path: Path) -> None:
    lines = path.read_text().splitlines()
    dated = ('"POT-Creation-Date', '"PO-Revision-Date')
    path.write_text("\n".join(line for line in lines if not line.startswith(dated)) + "\n")


def main(deed: str) -> int:
    """Do what was asked; tell whether all is as it should be."""
    if deed == "extract":
        if not shutil.which("xgettext"):
            sys.stderr.write("GNU gettext is needed here. Type: sudo apt-get install gettext\n")
            return 1
        extract()
    stale = []
    for path, data in compiled():
        if path.exists() and path.read_bytes() == data:
            continue
        if deed == "check":
            stale.append(str(path.relative_to(ROOT)))
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
    if stale:
        sys.stderr.write(
            f"Not as its .po says: {', '.join(stale)}. Type: script/messages compile\n"
        )
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
