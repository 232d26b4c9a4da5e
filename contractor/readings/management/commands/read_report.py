"""Print what is understood of a print-out, without a database."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from contractor.engine import layouts
from contractor.engine.layouts import plain
from contractor.readings.reading_process import read_isolated


class Command(BaseCommand):
    """Read one file and print its columns, rows, problems and questions."""

    help = "Print what is understood of a print-out. Nothing is written; no database is needed."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the file, and what is known of it."""
        parser.add_argument("file", type=Path, help="CSV, text, XLSX, XLS or ODS")
        parser.add_argument("--json", action="store_true", help="print JSON for programs")
        parser.add_argument(
            "--date-order",
            choices=["dmy", "mdy"],
            help="which comes first in days such as 11/02/2026",
        )
        parser.add_argument(
            "--mapping",
            type=json.loads,
            default={},
            help='what columns mean, as JSON: {"heading": "drift"}',
        )

    def handle(self, **options: Any) -> None:
        """Read the file in its own process and print the result."""
        path: Path = options["file"]
        try:
            printout = read_isolated(
                path.read_bytes(),
                filename=path.name,
                date_order=options["date_order"],
                mapping=options["mapping"],
            )
        except OSError as error:
            raise CommandError(f"{path} cannot be opened: {error.strerror}.") from None
        except layouts.Unreadable as error:
            if options["json"]:
                self.stdout.write(
                    json.dumps({"unreadable": str(error), "rows": [], "problems": []})
                )
            raise CommandError(str(error)) from None
        write = self._write_json if options["json"] else self._write_text
        write(printout)

    def _write_json(self, printout: layouts.Printout) -> None:
        result = {
            "kind": printout.kind,
            "encoding": printout.encoding,
            "layout": printout.layout,
            "facts": plain.to_plain(printout)["facts"],
            "columns": [column._asdict() for column in printout.columns],
            "rows": [{"row": row.number} | plain.shown(row) | _extra(row) for row in printout.rows],
            "problems": [problem._asdict() for problem in printout.problems],
            "asked": [question._asdict() for question in printout.asked],
        }
        self.stdout.write(json.dumps(result, ensure_ascii=False, indent=1))

    def _write_text(self, printout: layouts.Printout) -> None:
        said = printout.kind.replace("_", " ")
        self.stdout.write(
            f"{said}, {printout.layout}, {printout.encoding}, {len(printout.rows)} rows"
        )
        self.stdout.write("\nWhat the columns mean")
        for column in printout.columns:
            header = column.header or f"column {column.index + 1}"
            taken = column.confidence >= layouts.LOOK_ONCE
            meaning = " ".join(part for part in (column.meaning, column.unit) if part)
            self.stdout.write(
                f"  {header[:28]:28}  {column.example[:20]:20}  "
                f"{(meaning if taken else 'asked')[:22]:22}  {column.confidence:3}  "
                f"{column.because}"
            )
        self.stdout.write("\nRows")
        for row in printout.rows:
            values = plain.shown(row) | _extra(row)
            told = ", ".join(
                f"{key} {value}"
                for key, value in values.items()
                if key not in ("address", "label") and value not in (None, "")
            )
            self.stdout.write(f"  {row.number:5}  {row.address:12}  {row.label[:28]:28}  {told}")
        if printout.problems:
            self.stdout.write("\nProblems")
        for problem in printout.problems:
            where = f"row {problem.row}" if problem.row else "file"
            self.stdout.write(f"  {where:9}  {problem.sentence}")
        if printout.asked:
            self.stdout.write("\nAsked")
        for question in printout.asked:
            self.stdout.write(f"  {question.sentence} ({', '.join(question.choices)})")


def _extra(row: layouts.Row) -> dict[str, Any]:
    """Give what only some print-outs have."""
    values = {
        "peak": row.peak, "as_left": row.as_left, "temperature": row.temperature, "area": row.area,
        "product": row.product, "serial": row.serial,
        "installed_on": row.installed_on.isoformat() if row.installed_on else None,
        "building": row.building, "event": row.event, "event_text": row.event_text,
        "at": row.at.isoformat() if row.at else None,
    }  # fmt: skip
    return {key: value for key, value in values.items() if value not in (None, "")}
