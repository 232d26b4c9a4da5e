"""Check what came back: rows per firm, sealed chains, files, reports."""

from dataclasses import dataclass
from io import BytesIO
from typing import Any

from pypdf import PdfReader
from pypdf.errors import PyPdfError

from contractor.operations import queries
from contractor.tenancy import files
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.visits import queries as visits
from contractor.visits import services as sealing


@dataclass(frozen=True)
class Checked:
    """What is wrong, in sentences, and what was looked at."""

    problems: list[str]
    figures: dict[str, Any]


def compare_counts(manifest: dict[str, Any]) -> list[str]:
    """Compare each firm's rows, as the application sees them, with those that were backed up."""
    problems = []
    here = queries.count_as_app()
    for firm_id, counted in manifest["firms"].items():
        found = here.get(firm_id, {})
        for table in sorted({*counted["rows"], *found}):
            was, is_ = counted["rows"].get(table, 0), found.get(table, 0)
            if was != is_:
                problems.append(f"{counted['slug']}: {table} had {was} rows, and has {is_}.")
    problems += [
        f"Firm {firm_id} was not backed up." for firm_id in here.keys() - manifest["firms"]
    ]
    for table, is_ in queries.count_open().items():
        if (was := manifest["open"].get(table, 0)) != is_:
            problems.append(f"{table} had {was} rows, and has {is_}.")
    return problems


def check(manifest: dict[str, Any]) -> Checked:
    """Compute every chain anew, fetch every file that a row names, open every report."""
    problems: list[str] = []
    figures = {
        "firms": len(manifest["firms"]),
        "rows": sum(sum(counted["rows"].values()) for counted in manifest["firms"].values()),
        "records": 0,
        "files": 0,
        "reports": 0,
    }
    for firm_id in tenancy.list_firm_ids():
        slug = tenancy.get_slug(firm_id=firm_id)
        with scope(firm_id):
            problems += [f"{slug}: {wrong}" for wrong in sealing.verify_chain(firm_id=firm_id)]
            head = visits.find_head(firm_id=firm_id)
            is_ = [head.chain_number, head.chain_hash] if head else None
            if is_ != manifest["heads"].get(str(firm_id)):
                problems.append(f"{slug}: the chain of records ends elsewhere than it did.")
            figures["records"] += head.chain_number if head else 0
            for sha256 in sorted(queries.list_needed_files(firm_id=firm_id)):
                figures["files"] += 1
                problems += [f"{slug}: {wrong}" for wrong in _fetch(firm_id, sha256)]
            for report in queries.list_reports(firm_id=firm_id):
                figures["reports"] += 1
                problems += [f"{slug}: {wrong}" for wrong in _open(report)]
    return Checked(problems, figures)


def _fetch(firm_id: Any, sha256: str) -> list[str]:
    try:
        files.fetch(firm_id=firm_id, sha256=sha256)
    except FileNotFoundError:
        return [f"the file {sha256[:12]} is missing."]
    except ValueError as error:
        return [str(error)]
    return []


def _open(report: Any) -> list[str]:
    try:
        data = files.fetch(firm_id=report.firm_id, sha256=report.sha256)
        pages = len(PdfReader(BytesIO(data)).pages)
    except FileNotFoundError:
        return []  # said already
    except (PyPdfError, ValueError) as error:
        return [f"the report {report.pk} does not open: {error}"]
    if pages != report.pages:
        return [f"the report {report.pk} had {report.pages} pages, and has {pages}."]
    return []
