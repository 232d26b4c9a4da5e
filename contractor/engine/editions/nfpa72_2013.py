"""NFPA 72, 2013 edition. Methods and frequencies were merged into one table, 14.4.3.2."""

from contractor.engine.editions import nfpa72
from contractor.engine.editions.model import Edition

EDITION = Edition(
    key="nfpa72-2013",
    code="NFPA 72",
    title="NFPA 72, 2013 edition",
    year=2013,
    country="US",
    clauses=nfpa72.clauses(
        sensitivity=("14.4.4.3", "from memory"),
        first_year=("14.4.4.3.1", "from memory", "survey_2024"),
        alternate_year=("14.4.4.3.2", "from memory", "survey_2024"),
        extended=("14.4.4.3.3", "from memory", "survey_2024"),
        nuisance_record=("14.4.4.3.3.1", "from memory", "phillips"),
        nuisance_increase=("14.4.4.3.3.2", "from memory"),
        marked_range=("14.4.4.3.3", "from memory", "survey_2024"),
        unmarked=("14.4.4.3.3", "from memory", "survey_2024"),
        methods=("14.4.4.3.4", "from memory", "detector_maintenance"),
        out_of_range=("14.4.4.3.5", "from memory", "detector_maintenance"),
        adjustable=("14.4.4.3.6", "from memory", "detector_maintenance"),
        unmeasured_aerosol=("14.4.4.3.7", "from memory", "aerosol_page"),
        restart=("14.4.4.3.3", "our reading"),
    ),
    sensitivity=nfpa72.SENSITIVITY,
)
