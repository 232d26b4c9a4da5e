"""Hold the words of print-outs in English, Spanish, French and German, as data.

Every pattern is matched against text folded by `values.fold`: lower case, no accents.
The figure beside a pattern is how strongly it speaks for the meaning, from 0 to 1.
"""

# ruff: noqa: E501  (all words of one meaning stand in one line, to be compared across languages)

from __future__ import annotations

import difflib
import re
from functools import lru_cache

HEADERS: dict[str, list[tuple[float, str]]] = {
    "address": [
        (1.0, r"\b(addr|address|adr|adresse|direccion|dir)\b"),
        (0.95, r"\b(node|tag|point|punto|pt|knoten|noeud|nodo)s?\b"),
        (0.9, r"\b(device|dev|detector|detecteur|dispositivo|equipo|melder|sensor|head) ?(id|no|nr|num|number|numero|nummer|address|tag|ref|code)\b"),
        (0.9, r"\b(numero|nr|n|no) (de |du |d )?(detecteur|detector|melder|dispositivo|point)\b"),
        (0.9, r"\b(melder|teilnehmer|detektor|geraete|element)(nr|nummer|adresse|id)\b"),
        (0.8, r"\b(id|ident|identifier|repere|identifiant|identificador|kennung|element|elemento|teilnehmer|disp)\b"),
        (0.6, r"\b(device|dev|dispositivo|equipo|unit|ref|reference|detector|detecteur|melder|code|codigo|geraet|gerat|appareil)\b"),
    ],
    "panel": [
        (0.5, r"^unit$"),
        (0.9, r"\b(panel|control unit|cpu|zentrale|bmz|centrale|ecs|central|centralita)( ?(no|nr|id|number))?\b"),
    ],
    "loop": [
        (1.0, r"\b(loop|slc|lazo|bucle|boucle|ring|ringleitung|schleife|linie|ligne|linea)( ?(no|nr|num|number|numero|nummer|#))?\b"),
        (0.7, r"\b(circuit|circuito|bus|line|channel|canal|kanal)( ?(no|nr|number))?\b"),
    ],
    "circuit": [(0.95, r"\b(circuit|circuito|stromkreis|idc|nac)( ?(no|nr|id|number))?\b")],
    "number": [
        (0.8, r"\b(sub ?address|subaddress|position|pos)\b"),
        (0.7, r"^(no|nr|num|number|numero|nummer|n|#|n°)$"),
        (0.6, r"\b(number|numero|nummer|nr|no)\b"),
    ],
    "label": [
        (1.0, r"\b(label|location|place|where|name|description|desc|descr|descriptor|libelle|emplacement|lieu|designation|ubicacion|lugar|descripcion|nombre|etiqueta|standort|ort|bezeichnung|beschreibung|einbauort|meldertext|raumbezeichnung|kundentext|custom text|text|texto|texte|nom|lage|loc|situacion|situation)\b"),
        (0.9, r"\b(room|raum|sala|salle|local|localisation|localizacion|piece|recinto|user text|message|installed at|montageort)\b"),
    ],
    "area": [
        (0.95, r"\b(zone|zona|area|bereich|floor|planta|piso|etage|geschoss|stockwerk|group|gruppe|groupe|grupo|meldergruppe|sector|secteur|sektor|storey|wing)( ?(no|nr|number))?\b"),
        (0.5, r"\b(level|niveau|nivel|ebene)\b"),
    ],
    "kind": [
        (1.0, r"\b(kind|type|tipo|typ|art|genre|nature|clase|class|melderart|meldertyp|detektortyp|sensortyp|sorte|bauart|technologie|technology|tecnologia|principle|prinzip|principe|principio|category|kategorie|categorie)\b"),
        (0.8, r"\b(tech|techn)\b"),
        (0.7, r"\b(what|head|sensor|capteur|tete|detector|detecteur|cabeza|device|element)\b"),
    ],
    "product": [(0.95, r"\b(model|make|product|part ?(no|nr|number)|modelo|marca|modele|marque|modell|fabrikat|hersteller|produkt|produit|producto|manufacturer|catalog)\b")],
    "serial": [(1.0, r"\b(serial|s/n|sn|serie|seriennummer|numero de serie|serien ?nr)\b")],
    "setting": [
        (1.0, r"^set$|\b(setting|set ?point|threshold|thresh|thrs|thr|umbral|consigna|seuil|reglage|schwelle|alarmschwelle|ansprechschwelle|einstellung|schwellwert|schwellenwert|ajuste|preset|programmed)\b"),
        (1.0, r"\b(alarm|alarme|alarma) ?(level|at|point|set|setting|threshold|schwelle|wert|pegel|lvl|obscuration|obsc|obs)\b"),
        (1.0, r"\b(nivel|niveau|punto|point|umbral|seuil|valor|valeur|points?) (de |d )?(alarma|alarme|declenchement|disparo)\b"),
        (0.95, r"\b(alarms? at|trips? at|alarm bei|alarmiert bei|alarma a|alarme a|set to|dispara a|ansprechwert|alarmwert|alarmstufe|declenche a)\b"),
        (0.85, r"\b(trip|trip point|sens|sensitivity|sensibilidad|sensibilite|empfindlichkeit|ansprechempfindlichkeit|sensitiv)\b"),
        (0.92, r"(?<!pre )(?<!pre-)\b(alarm|alarma|alarme|alm)\b"),
    ],
    "setting_day": [(0.9, r"\b(day|dia|jour|tag|tags|tagsueber|diurno|diurna|day ?time|tagbetrieb|occupied|ocupado|occupe)\b")],
    "setting_night": [(0.95, r"\b(night|noche|nuit|nacht|nachts|nocturno|nocturna|nocturne|night ?time|nachtbetrieb|unoccupied|desocupado|inoccupe)\b")],
    "now": [
        (1.0, r"\b(present|now|current|currently|actual|momentan|live|ist ?wert|istwert|aktuell\w*|actuel\w*|presente?|ahora|jetzt|momentanwert|derzeit\w*|instant\w*|en cours)\b"),
        (0.7, r"\b(level|lvl|nivel|niveau|pegel|smoke|chamber|clean air|obscuration|obsc|obs|value|valor|valeur|wert|analog obs|ruhewert|reading|reads|lectura|lecture|fond|humo|fumee|rauch|trubung|opacite|oscurecimiento)\b"),
    ],
    "peak": [
        (1.0, r"\b(peak|pk|pico|pointe|crete|spitze|spitzenwert|highest|hochst\w*|hochstwert|maximalwert)\b"),
        (0.6, r"\b(max|maximum|maximo|maxi)\b"),
    ],
    "drift": [
        (1.0, r"\b(drift(?!grenze|limit|max)\w*|soiling|soiled|dirt|dirty|dirtiness|dust|contamination|deriva|suciedad|ensuciamiento|contaminacion|derive|encrass(?:ement)?|salissure|empoussierement|verschmutzung\w*|verschmutzungswert)\b"),
        (0.85, r"\b(compensation|compensated|comp|correction|corrected|corr|cor|offset|compensacion|correccion|kompensation|korrektur|nachfuhrung|abweichung|shift|baseline shift|desviacion|ecart)\b"),
    ],
    "used": [
        (1.0, r"\b(used|usado|utilizado|consumido|utilise|consomme|verbraucht|genutzt|ausgeschopft|ausnutzung|usage|gebraucht|ausgenutzt|aufgebraucht|auslastung)\b"),
        (0.9, r"\b(allowance|share|taux|quote|anteil|grad|verschmutzungsgrad|consumption|utilisation|utilization|uso|usure)\b"),
    ],
    "remaining": [(1.0, r"\b(remaining|remain|left|reserve|restante?|restant|reste|verbleibend\w*|rest|reserva|disponible|available|verfugbar)\b")],
    "limit": [
        (1.0, r"\b(limit|lim|limite|grenze|grenzwert|grenz|tope|cap|ceiling|hochstens|zulassig\w*|permitted|admissible|admisible|allowed|at most|au plus|como maximo|plafond|driftgrenze|maximaldrift)\b"),
        (0.95, r"\b(max|maximum|maximo|maxi|maximal\w*)( de)? (drift|comp|compensation|soiling|correction|deriva|derive|kompensation|verschmutzung|compensacion)\b"),
        (0.95, r"\b(drift|comp|compensation|soiling|correction|deriva|derive|kompensation|verschmutzung|compensacion) (max\w*|limit\w*|allowed|allowable|permitted|erlaubt)\b"),
        (0.8, r"\b(allowance|toleranz|tolerance|tolerancia)\b"),
    ],
    "measured": [
        (1.0, r"\b(measured|measurement|measure|meas|as found|medido|medida|medicion|mesure|mesuree|mesures|releve|gemessen\w*|messwert|messung|gemess|found)\b"),
        (0.75, r"\b(test result|result|reading|tested|lectura|lecture|resultado|resultat|ergebnis|test value|test|alarmed at|alarm point)\b"),
    ],
    "as_left": [(1.0, r"\b(as left|left|after cleaning|apres nettoyage|tras limpieza|nach reinigung|dejado|laisse|nachher)\b")],
    "marked_low": [
        (1.0, r"\b(marked|listed|rated|permitted|label|range|gama|rango|plage|bereich|kennzeichnung|acceptable|accept) (low|min|minimum|from|lower|desde|von|de|min)\b"),
        (0.95, r"\b(min|minimum|minimo|mini|lower|low|lowest|inferior|untere\w*|unten|inferieur\w*|mindest\w*|most sensitive)\b"),
        (0.8, r"\b(from|desde|von|bas|basse|ab|lo)\b"),
    ],
    "marked_high": [
        (1.0, r"\b(marked|listed|rated|permitted|label|range|gama|rango|plage|bereich|kennzeichnung|acceptable|accept) (high|max|maximum|to|upper|hasta|bis|a|max)\b"),
        (0.95, r"\b(max|maximum|maximo|maxi|upper|high|superior|obere\w*|oben|superieur\w*|hochst\w*|least sensitive)\b"),
        (0.8, r"\b(to|hasta|bis|haut|haute|hi)\b"),
    ],
    "marked_range": [
        (0.95, r"\b(marks|marked|range|listed range|marked range|gama|rango|plage|bereich|min ?/ ?max|min ?- ?max|window|fenster|acceptable|marcado|marquage|kennzeichnung|from ?/ ?to|von ?[/-] ?bis)\b"),
    ],
    "analog": [
        (1.0, r"\b(analog|anlg|analogue|analogico|analogique|analogwert|raw|rohwert|brut|bruto|brute|counts?|a/d|adc|cuentas|digits?)\b"),
    ],
    "temperature": [(1.0, r"\b(temp|temperature|temperatura|temperatur|deg|degrees|rated)\b|°|\bdeg ?[cf]\b")],
    "verdict": [
        (1.0, r"\b(verdict|pass ?/ ?fail|ok\??|in range|bewertung|urteil|dictamen|verdicto|conforme|beurteilung)\b"),
        (0.9, r"\b(status|state|estado|etat|zustand|stat|condition|result|resultado|resultat|ergebnis|says|remark)\b"),
    ],
    "date": [
        (1.0, r"\b(date|fecha|datum|dated|prufdatum|messdatum|testdatum|tested on|when|day tested|read on|inspected|inspection|inspected on|gelesen am|taken)\b"),
        (0.5, r"\b(tested|last test|test|am|le|dia|tag|day)\b"),
    ],
    "installed": [(1.0, r"installed|in service|commissioned|instalad|installe|mise en service|eingebaut|einbaudatum|inbetrieb|einbau$")],
    "time": [(1.0, r"\b(time|hora|heure|uhrzeit|zeit|hour)\b")],
    "event": [(0.95, r"\b(event|evento|evenement|ereignis|meldung|message|activity|occurrence|suceso|mensaje|action)\b"), (0.6, r"\b(alarm|status|state|type|condition|text)\b")],
    "building": [(0.95, r"\b(building|site|property|premises|facility|edificio|sitio|instalacion|batiment|gebaude|objekt|liegenschaft|anlage|customer|immeuble|system|sistema|systeme)\b")],
    "unit": [(1.0, r"^(units?|uom|unidad(es)?|unites?|einheit(en)?)$")],
    "instrument": [(1.0, r"\b(instrument|instrument ?(no|nr)|instrumento|meter|tester|messgerat|prufgerat|appareil de mesure|appareil|test set|aparato|calibrated)\b")],
    "person": [(0.95, r"\b(technician|technicien|tecnico|techniker|tested by|by|inspector|prufer|initials|operator|par|por|durch|tech|read by)\b")],
    "row_number": [(1.0, r"^(row|line|item|seq|lfd|lfd nr|laufende nummer|lfdnr|fila|ligne|zeile|renglon|orden|index|idx|ser|pos|position|#|no|nr|n|n°|numero|nummer|num|item no)$")],
    "notes": [(1.0, r"\b(notes?|remarks?|comments?|observacion(es)?|comentarios?|remarques?|commentaires?|bemerkung(en)?|anmerkung(en)?|notas?|hinweis|action|cleaned|priority|firmware|version|fw|baseline|pre ?-? ?alarm\w*|voralarm|prealarm\w*)\b|cleaned|serviced|manufactured|calibrat|nettoye|limpiad|gereinigt|hergestellt")],
}  # fmt: skip

_COMPILED = {
    meaning: [(weight, re.compile(pattern)) for weight, pattern in patterns]
    for meaning, patterns in HEADERS.items()
}


@lru_cache(maxsize=4096)
def header_scores(folded: str) -> dict[str, float]:
    """Score a header, folded and freed of units, for each meaning that it speaks for."""
    if not folded:
        return {}
    scores = _matched(folded)
    if not scores and len(folded) >= 5:
        corrected = " ".join(_corrected(word) for word in folded.split())
        if corrected != folded:
            scores = {meaning: 0.93 * said for meaning, said in _matched(corrected).items()}
    return scores


def _matched(folded: str) -> dict[str, float]:
    letters = max(1, len(folded.replace(" ", "")))
    scores = {}
    for meaning, patterns in _COMPILED.items():
        strongest = 0.0
        matched: set[int] = set()
        for weight, pattern in patterns:
            for match in pattern.finditer(folded):
                strongest = max(strongest, weight)
                matched.update(range(*match.span()))
        if strongest:
            length = sum(1 for place in matched if folded[place] != " ")
            scores[meaning] = strongest * (0.75 + 0.25 * length / letters)
    return scores


_SPELT = sorted(
    {
        word
        for patterns in HEADERS.values()
        for _weight, pattern in patterns
        for word in re.findall(r"(?<![\w\\])[a-z]{5,}(?![\w*?\\])", pattern)
    }
)


@lru_cache(maxsize=1024)
def _corrected(word: str) -> str:
    """Give the heading word that a misspelt one is meant for, or the word itself."""
    close = difflib.get_close_matches(word, _SPELT, n=1, cutoff=0.85) if len(word) >= 5 else []
    return close[0] if close else word


#: Single words that only ever stand in a heading; used to tell a heading from a row.
def is_heading_word(folded: str) -> bool:
    """Tell whether folded text says nothing but what a column means."""
    scores = header_scores(folded)
    return bool(scores) and max(scores.values()) >= 0.6


SMOKE = re.compile(
    r"smoke|smk|\bsmok|optic|optisch|optiq|optik|\bopt\b|photo|foto|\bpho\b|\bpe\b|ioniz|ionis|\bion\b|ioniq|ionic|laser|\bbeam\b|"
    r"aspirat|duct|humo|fumee|rauch|streulicht|scatter|obscuration"
)
HEAT = re.compile(
    r"heat|therm|\bht\b|\bth\b|\bfixed temp|rate[ -]of[ -]rise|\bror\b|termic|\bterm\b|calor|chaleur|warme|waerme|hitze|"
    r"temperatur|\btemp\b|velocimetri"
)
COMBINED = re.compile(
    r"combi|combo|multi|kombi|mehrfach|mehrkriter|dual|mixto|mixte|\bo/?t\b|\bo\+t\b|\bot\b"
)
OTHER = re.compile(
    r"\bpull|manual|call ?point|\bmcp\b|pulsador|manuel|declencheur|handmelder|handfeuer|druckknopf|koppler|module|modul\b|modulo|"
    r"relay|rele|relais|sounder|strobe|horn|bell|sirene|sirena|flow|tamper|supervis|monitor|control|input|output|"
    r"isolator|aislador|isolateur|\bco\b|carbon monoxide|monoxid|gas\b|flame|flamme|llama|battery|switch$"
)
_EXACT_KINDS = {
    "s": "smoke", "sd": "smoke", "o": "smoke", "p": "smoke", "i": "smoke", "opt": "smoke",
    "h": "heat", "hd": "heat", "t": "heat", "sh": "smoke+heat", "s/h": "smoke+heat",
    "s+h": "smoke+heat", "h/s": "smoke+heat", "oh": "smoke+heat", "o/h": "smoke+heat",
    "o+h": "smoke+heat", "ph": "smoke+heat", "p/h": "smoke+heat", "p+h": "smoke+heat",
    "ot": "smoke+heat", "o/t": "smoke+heat", "o+t": "smoke+heat", "smk": "smoke", "sm": "smoke",
    "smk/ht": "smoke+heat", "smk+ht": "smoke+heat", "smk/heat": "smoke+heat", "ht": "heat",
    "ror": "heat", "mm": "other", "cm": "other", "mcp": "other", "pho": "smoke", "ion": "smoke",
}  # fmt: skip
WEAK_KIND_CODES = frozenset({"s", "o", "p", "i", "h", "t", "ph", "oh", "ot", "sh", "sm"})


@lru_cache(maxsize=8192)
def kind_of(folded: str) -> str:
    """Tell what kind of device folded words name: smoke, heat, smoke+heat, other; empty if unsaid."""
    if folded in _EXACT_KINDS:
        return _EXACT_KINDS[folded]
    smoke, heat = bool(SMOKE.search(folded)), bool(HEAT.search(folded))
    if smoke and heat:
        return "smoke+heat"
    if COMBINED.search(folded):
        return "smoke+heat"
    if OTHER.search(folded) and not (smoke or heat):
        return "other"
    if smoke:
        return "smoke"
    if heat:
        return "heat"
    return ""


_GOOD = re.compile(
    r"^(ok(ay)?|p|pass(ed)?|normal|in range|within range|within( limits)?|good|gut|i\.? ?o\.?|in ordnung|bestanden|"
    r"conforme|bon|bien|correcto|aprobado|dentro( de rango)?|en rango|apto|satisfactory|sat|clean|propre|limpio|"
    r"sauber|dans la plage|im bereich|yes|si|oui|ja|✓|✔|y|true|acceptable)$"
)
_BAD = re.compile(
    r"^(f|fail(ed)?|out of range|out|bad|too (low|high|sensitive|insensitive)|fehler|nicht bestanden|n\.? ?i\.? ?o\.?|"
    r"non conforme|mauvais|echec|fallo|no conforme|fuera( de rango)?|no apto|suspenso|unsat|unsatisfactory|dirty|"
    r"sale|encrasse|sucio|verschmutzt|hors plage|ausser bereich|no|non|nein|✗|✘|n|false|alert|replace|clean now|"
    r"trouble|maintenance|service|above|below|high|low|cleaning needed)$"
)
EARLIER = re.compile(
    r"\b(last|previous|prior|dernier\w*|precedent\w*|letzt\w*|vorig\w*|ultim\w*|anterior)\b"
)
YES_NO = re.compile(r"yes|no|y|n|si|oui|non|ja|nein|true|false")
WANTS_NOTHING = re.compile(
    r"maint|clean|dirty|fault|trouble|replace|alert|fail|service|sucio|averia|fallo|limpi|nettoy|encrass|"
    r"defaut|wartung|verschmutz|storung|reinig"
)
_NEAR = re.compile(
    r"^(warn(ing)?|near\w*|advisory|caution|watch|pre ?alert|aviso|attention|achtung|warnung|vorwarnung|almost \w+|soiled)$"
)


@lru_cache(maxsize=4096)
def verdict_of(folded: str) -> str:
    """Tell what folded words printed by a control unit say: good, bad, near; empty if neither."""
    bare = folded.strip(" .!*")
    if _GOOD.match(bare):
        return "good"
    if _BAD.match(bare):
        return "bad"
    return "near" if _NEAR.match(bare) else ""


_EVENTS = [
    ("restore", re.compile(r"restor|cleared|return to normal|\bnormal\b|reset|rearme|normaliz|retour|retabli|ruckstell|ruckgestell|zuruck|quitt")),
    ("maintenance", re.compile(r"maint|dirty|clean|drift|soil|mantenimiento|sucio|suciedad|entretien|encrass|wartung|verschmutz|compensation limit")),
    ("trouble", re.compile(r"trouble|fault|missing|no answer|no response|open circuit|short|averia|fallo|derangement|defaut|storung|stoerung|panne|ground|earth|(power|mains|secteur|netz|red) ?(loss|fail|ausfall)|fallo de red|perte (du )?secteur|netzausfall|low batt|bateria baja|batterie (faible|schwach)")),
    ("supervisory", re.compile(r"superv")),
    ("prealarm", re.compile(r"pre ?-?alarm|prealarma|prealarme|voralarm|alert")),
    ("alarm", re.compile(r"alarm|\bfire\b|feuer|incendio|incendie|\bfeu\b|brand")),
    ("disable", re.compile(r"disab|isolat|bypass|desactiv|hors service|abgeschaltet|abschalt|inhib|anulad")),
    ("enable", re.compile(r"enab|activad|en service|eingeschaltet")),
    ("acknowledge", re.compile(r"ack|silenc|acus|acquit|quittier")),
    ("test", re.compile(r"\btest|walk|prueba|essai|prufung")),
]  # fmt: skip


@lru_cache(maxsize=4096)
def event_of(folded: str) -> str:
    """Tell what happened in one line of an event log; empty if its words are unknown."""
    for name, pattern in _EVENTS:
        if pattern.search(folded):
            return name
    return ""


_KIND_WORDS = re.compile(
    r"head|detector\w*|sensor\w*|detecteur\w*|melder|type|and|und|et|y|with|mit|avec|con|fixed|photo\w*|electric|smoke|optical|optic\w*|"
    r"\w*rauch\w*|\w*warme\w*|therm\w*|heat|ionization|ion|combined|multi\w*|criteria|rate|of|rise|temperature|[^a-z]+"
)


def is_pure_kind(folded: str) -> bool:
    """Tell whether folded text names a kind of detector and nothing else."""
    kind = kind_of(folded)
    return bool(kind) and kind != "other" and not _KIND_WORDS.sub("", folded).strip()


MARKS = re.compile(
    r"\b(marked|listed|range|marks|acceptable|plage|rango|gama|bereich|kennzeichnung|marcado)\b[^\d]{0,60}?"
    r"(\d+(?:[.,]\d+)?\s*(?:%[^\d]{0,8})?\s*(?:to|-|–|/|a|bis|hasta|and|et|y|und)\s*\d+(?:[.,]\d+)?\s*[^\s\d]{0,6}(?: ?/ ?[a-z]+)?)"
)
LOOP = "loop|slc|lazo|bucle|boucle|ring|schleife|linie|ligne|linea|line"
DEVICE = (
    "device|dev|detector|det|address|addr|point|head|sensor|dispositivo|equipo|punto|detecteur|"
    "melder|adresse|no|nr"
)
SPOKEN = re.compile(rf"(?:{LOOP})\W{{0,2}}(\d{{1,3}})\W{{0,3}}(?:{DEVICE})\W{{0,2}}(\d{{1,4}})")
FOOTERS = re.compile(
    r"^\W*(grand )?(sub ?)?(total|totals|sum|summe|suma|totales|gesamt|average|avg|mean|median|moyenne|promedio|media|"
    r"mittelwert|durchschnitt|count|anzahl|nombre|numero de|end of|end|fin|ende|page|pagina|seite|min|max|minimum|maximum|"
    r"signature|signed|firma|unterschrift|printed|impreso|imprime|gedruckt)\b"
)
SECTION = re.compile(
    r"\b(loop|slc|lazo|bucle|boucle|ring|ringleitung|schleife|linie|ligne|linea|circuit|circuito)\b\W{0,3}"
    r"(?:no\W*|nr\W*|number\W*|numero\W*)?([a-z]?\d{1,3})\b"
)
STOREY = re.compile(
    r"\W*(?:floor|storey|zone|area|level|wing|piso|planta|zona|etage|niveau|geschoss|stockwerk|bereich|gruppe|group|groupe|grupo)"
    r"\W{0,3}(?:no\W*|nr\W*)?[a-z0-9]{1,3}\W*"
)
PANEL = re.compile(
    r"\b(panel|node|control unit|zentrale|centrale|central|noeud|nodo)\b\W{0,3}(?:no\W*|nr\W*)?(\d{1,3})\b"
)
COUNT = re.compile(
    r"\b(?:total|count|gesamt|anzahl|nombre|cantidad)?\W*(\d{1,6})\W*(?:of\W*\d+\W*)?"
    r"(nodes?|devices?|detectors?|points?|rows?|records?|lines?|entries|dispositivos|detectores|puntos|equipos|registros|"
    r"detecteurs|appareils|points|lignes|melder|teilnehmer|zeilen|gerate|knoten|nodos|noeuds)\b"
)
COUNT_AFTER = re.compile(
    r"\b(total|count|gesamt|anzahl|nombre|cantidad|totales)\b[^\d]{0,40}?(\d{1,6})\s*\.?\W*$"
)
PRINTED = re.compile(
    r"print|export|report|as of|taken|generated|created|read|date|run|impres|fecha|export|informe|generad|leid|imprim|"
    r"edit|rapport|releve|gedruckt|druck|erstellt|stand|bericht|ausgabe|datum|tested|survey|on\b"
)
NOT_PRINTED = re.compile(
    r"calibrat|install|software|firmware|version|due|next|last|previous|since|expir|valid|calibrac|instalad|proxim|ultim|"
    r"etalonn|derni|prochain|kalibr|letzt|nachst|einbau|gultig|commission|mise en service|inbetrieb|copyright|rev\b|licen"
)
IDENTITY = re.compile(
    r"\b(building|site|property|premises|facility|customer|client|edificio|sitio|cliente|inmueble|batiment|immeuble|client|"
    r"gebaude|objekt|liegenschaft|kunde|project|proyecto|projet|projekt|standort|installation|instalacion|anlage)"
    r"(?: name| nombre)?\s*[:=\-–]\s*(.{2,80}?)(?=\s{3,}|\t|$|;|\|)"
)
SYSTEM = re.compile(
    r"\b(system|panel|control unit|sistema|systeme|zentrale|centrale|central)(?: name| id)?\s*[:=\-–]\s*(.{1,80}?)(?=\s{3,}|\t|$|;|\|)"
)
LEGEND = re.compile(
    r"(?<![\w/+])([a-z0-9]{1,4}(?:[/+][a-z0-9]{1,3})?)\s?(?:=|:|\s-\s)\s?([a-z][a-z/+ -]{2,40}?)"
    r"(?=\s*(?:[;,.|)]|$|\s[a-z0-9]{1,4}(?:[/+][a-z0-9]{1,3})?\s?(?:=|:|\s-\s)))"
)
LANGUAGES = {
    "es": re.compile(r"\b(direccion|ubicacion|humo|umbral|fecha|deriva|suciedad|nivel|tipo|lazo|informe|detectores|por pie|calor|de la|del|edificio|limite|medido|sensibilidad|estado)\b"),
    "fr": re.compile(r"\b(adresse|emplacement|seuil|fumee|chaleur|encrassement|derive|niveau|boucle|rapport|detecteurs?|par pied|libelle|du|des|batiment|etat|mesure|imprime|releve|sensibilite|lieu|reglage)\b"),
    "de": re.compile(r"\b(melder|adresse|standort|schwelle|rauch|warme|verschmutzung|alarmschwelle|empfindlichkeit|ringleitung|gebaude|bericht|gedruckt|datum|art|einbauort|typ|gemessen|ort|und|seite|bezeichnung|ausgeschopft)\b"),
    "en": re.compile(r"\b(address|location|smoke|heat|threshold|level|used|printed|page|the|setting|type|name|date|alarm|node|drift|label|device|measured|detector|of|room|place|kind)\b"),
}  # fmt: skip
