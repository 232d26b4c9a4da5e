"""NFPA 72, 2010 edition. Methods and frequencies stand in two tables, 14.4.2.2 and 14.4.5."""

from contractor.engine.editions import nfpa72
from contractor.engine.editions.model import Edition

EDITION = Edition(
    key="nfpa72-2010",
    code="NFPA 72",
    title="NFPA 72, 2010 edition",
    year=2010,
    country="US",
    clauses=nfpa72.clauses(
        sensitivity=("14.4.5.3", "confirmed", "survey_2024", "phillips"),
        first_year=("14.4.5.3.1", "confirmed", "survey_2024", "phillips"),
        alternate_year=("14.4.5.3.2", "confirmed", "survey_2024", "phillips"),
        extended=("14.4.5.3.3", "confirmed", "survey_2024", "phillips", "keyes_sensitivity"),
        nuisance_record=("14.4.5.3.3.1", "confirmed", "phillips", "survey_2013"),
        nuisance_increase=("14.4.5.3.3.2", "from memory"),
        marked_range=("14.4.5.3.3", "confirmed", "survey_2024", "survey_2013"),
        unmarked=("14.4.5.3.3", "confirmed", "survey_2024", "survey_2013"),
        methods=("14.4.5.3.4", "confirmed", "phillips", "detector_maintenance"),
        out_of_range=("14.4.5.3.5", "from memory", "detector_maintenance", "aerosol_page"),
        adjustable=("14.4.5.3.6", "from memory", "detector_maintenance", "aerosol_page"),
        unmeasured_aerosol=("14.4.5.3.7", "from memory", "aerosol_page"),
        restart=("14.4.5.3.3", "our reading", "survey_2024"),
    ),
    sensitivity=nfpa72.SENSITIVITY,
)
