"""Fifty rows by raw psycopg behind row security, no framework: other pages are held to it."""

import os
import threading

import psycopg

HELD = threading.local()
#: The same fifty buildings as our list shows first.
ROWS = """
    select b.id, b.name, b.town, c.name from register_building b
    join register_customer c on c.id = b.customer_id
    where b.firm_id = %s order by b.name, b.id limit 50
"""


def application(environ, start_response):
    """Answer the rows of the firm named by FIRM_ID."""
    if not hasattr(HELD, "db"):
        HELD.db = psycopg.connect(os.environ["DATABASE_URL"])
    firm = os.environ["FIRM_ID"]
    with HELD.db.transaction():
        HELD.db.execute("select set_config('app.firm_id', %s, true)", [firm])
        rows = HELD.db.execute(ROWS, [firm]).fetchall()
    page = "".join(f"<tr><td>{'</td><td>'.join(map(str, row))}</td></tr>" for row in rows)
    data = f"<!doctype html><table>{page}</table>".encode()
    head = [("Content-Type", "text/html"), ("Content-Length", str(len(data)))]
    start_response("200 OK", head)
    return [data]
