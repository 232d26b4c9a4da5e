"""Print-outs written by hand, each with what a careful reader gets out of some of its rows.

All buildings, labels and figures are invented.
"""

# ruff: noqa: E501  (the lines are the print-outs)

import math

import pytest

from contractor.engine import layouts

CASES = {}


def case(name, text, rows):
    """Keep one print-out and the cells that are to come out of it."""
    CASES[name] = (text.encode(), rows)


def row(address, **values):
    """Give the cells of one row that matter."""
    return {"address": address} | values


def per_foot(percent_per_metre):
    """Convert %/m to %/ft. Source: Bouguer's law."""
    return 100 * (1 - (1 - percent_per_metre / 100) ** 0.3048)


case(
    "obscured-units.csv",
    """Report: Sensitivity & drift;;;;;;
Site: Brook House;;;;;;
Date/time: 2026-11-19 08:00;;;;;;
;;;;;;
Device;Location;Technology;Sensitivity (% obsc./ft);Clean air value (% obsc./ft);Drift (% obsc./ft);Drift limit (% obsc./ft)
001;Hall;Optical;2,50;0,12;0,20;1,25
002;Kitchen;Thermal;;;;
003;Attic;Optical + thermal;1,50;0,05;0,00;0,75
""",
    [
        row(
            "001",
            label="Hall",
            kind="smoke",
            setting=2.5,
            now=0.12,
            drift=0.2,
            limit=1.25,
            taken_on="2026-11-19",
        ),
        row("002", kind="heat", setting=None),
        row("003", kind="smoke+heat", setting=1.5, drift=0.0),
    ],
)
case(
    "loops-without-headings.txt",
    """Alarm system: Mill Lane
Loop 1
  1  Entrance hall        photo     2.40%/ft   0.10%/ft   12%
  2  Stair 1              photo     2.40%/ft   0.00%/ft    0%
  3  Boiler house         heat         -          -        -
Loop 2
  1  Dining room          photo     1.40%/ft   0.20%/ft   40%
  2  Larder               heat         -          -        -
  3  Drying room          multi     2.00%/ft   0.10%/ft   24%
""",
    [
        row("1-001", label="Entrance hall", kind="smoke"),
        row("1-003", label="Boiler house", kind="heat"),
        row("2-001", label="Dining room", kind="smoke"),
        row("2-003", kind="smoke+heat"),
    ],
)
case(
    "short-names.csv",
    """id,desc,type,min_sens,max_sens,sens,ts
A-1,"Hall, north",photo,0.8,3.2,2.1,2026-11-19 06:00:00
A-2,Kitchen,heat,,,,2026-11-19 06:00:00
A-3,Attic,photo,0.8,3.2,3.4,2026-11-19 06:00:00
A-4,Cellar,photo,0.8,3.2,1.7,2026-11-19 06:00:00
""",
    [
        row(
            "A-1",
            label="Hall, north",
            kind="smoke",
            marked_low=0.8,
            marked_high=3.2,
            taken_on="2026-11-19",
        ),
        row("A-3", marked_low=0.8),
    ],
)
case(
    "points.txt",
    """Point L1-01  Hall, north wing
  Type: Photoelectric    Sensitivity: 2.5 %/ft
  Present value: 0.1 %/ft    Peak value: 0.4 %/ft
  Compensation: 18 % of range used
  Last test: 11/19/2026 PASS

Point L1-02  Kitchen
  Type: Fixed temperature heat    Rating: 135 F
  Last test: 11/19/2026 PASS

Point L1-03  Attic
  Type: Photoelectric    Sensitivity: 1.5 %/ft
  Present value: 0.0 %/ft    Peak value: 0.2 %/ft
  Compensation: 45 % of range used
  Last test: 11/19/2026 FAIL
""",
    [
        row(
            "L1-01",
            label="Hall, north wing",
            kind="smoke",
            setting=2.5,
            now=0.1,
            used=0.18,
            taken_on="2026-11-19",
        ),
        row("L1-02", kind="heat", setting=None),
        row("L1-03", setting=1.5, used=0.45),
    ],
)
case(
    "groups.csv",
    """Nr;Meldergruppe;Melder;Ort;Meldertyp;Alarmschwelle;Aktueller Messwert;Verschmutzungsgrad;Datum
1;12;1;Foyer;O;7,5 %/m;0,3 %/m;22 %;19.11.2026
2;12;2;Foyer;O;7,5 %/m;0,6 %/m;35 %;19.11.2026
3;13;1;Archiv;OT;4,5 %/m;0,0 %/m;0 %;19.11.2026
4;13;2;Küche;T;-;-;-;19.11.2026
""",
    [
        row(
            "12/1",
            label="Foyer",
            kind="smoke",
            setting=per_foot(7.5),
            used=0.22,
            taken_on="2026-11-19",
        )
    ],
)
case(
    "listed-range.txt",
    """                      DETECTOR SENSITIVITY TEST REPORT
Property: Alder Court            Inspector: I. Sorrel
Test date: 11/20/2026            Instrument: B-02

  Zone  Dev   Location              Listed range    Reading   Result
   1    101   Lobby                 1.10 - 3.80      2.35     Pass
   1    102   Mail room             1.10 - 3.80      3.95     Fail
   2    201   Corridor              1.10 - 3.80      2.60     Pass
   2    202   Store                 1.10 - 3.80      n/t
""",
    [
        row(
            "101",
            label="Lobby",
            measured=2.35,
            marked_low=1.1,
            marked_high=3.8,
            taken_on="2026-11-20",
            control_unit_says=True,
        ),
        row("102", control_unit_says=False, measured=3.95),
        row("202", label="Store", measured=None),
    ],
)
case(
    "prealarm.csv",
    """Address,Description,Type,Sensitivity Level,Alarm %/ft,Pre-alarm %/ft,Value %/ft,% soiled,Days since cleaned
2-01,Lab 1,Photo,3,2.0,1.4,0.1,15,120
2-02,Lab 2,Photo,5,2.8,2.0,0.1,0,80
2-03,Lab 3,Heat,,,,,,
""",
    [
        row("2-01", label="Lab 1", kind="smoke", setting=2.0, now=0.1, used=0.15),
        row("2-02", setting=2.8),
    ],
)
case(
    "fiches.txt",
    """Adresse: 1.01
Désignation: Bureau du directeur
Type: Optique de fumée
Seuil d'alarme: 6,5 %/m
Valeur actuelle: 0,4 %/m
Taux d'encrassement: 35 %

Adresse: 1.02
Désignation: Chaufferie
Type: Thermique
Seuil d'alarme: néant
Valeur actuelle: néant
Taux d'encrassement: néant

Adresse: 1.03
Désignation: Archives
Type: Optique de fumée
Seuil d'alarme: 9,0 %/m
Valeur actuelle: 0,0 %/m
Taux d'encrassement: 5 %
""",
    [
        row(
            "1.01",
            label="Bureau du directeur",
            kind="smoke",
            setting=per_foot(6.5),
            now=per_foot(0.4),
            used=0.35,
        ),
        row("1.02", kind="heat", setting=None, label="Chaufferie"),
        row("1.03", setting=per_foot(9)),
    ],
)
case(
    "unit-column.csv",
    """detector,kind,threshold,reading,unit
F1,smoke,0.20,0.01,dB/m
F2,smoke,0.25,0.02,dB/m
F3,heat,,,
F4,smoke,0.15,0.00,dB/m
""",
    [
        row("F1", setting=100 * (1 - 10 ** (-0.02 * 0.3048)), kind="smoke"),
        row("F3", kind="heat", setting=None),
    ],
)
case(
    "clean-me.txt",
    """Sensitivity and compensation, 20-NOV-2026
ADDRESS  DESCRIPTION           ALARM@   NOW    COMP%  CLEAN?
-----------------------------------------------------------
1-001    MAIN LOBBY            2.5%     0.1%    12    no
1-002    REAR LOBBY            2.5%     0.0%    80    YES
1-003    LIFT MOTOR RM         1.5%     0.1%     5    no
""",
    [
        row("1-001", label="MAIN LOBBY", setting=2.5, now=0.1, used=0.12, taken_on="2026-11-20"),
        row("1-002", used=0.8, control_unit_says=False),
        row("1-003", control_unit_says=True),
    ],
)
case(
    "nocturna.csv",
    """Dirección,Descripción,Tipo,Sensibilidad programada (%/m),Sensibilidad nocturna (%/m),Contaminación (%),Fecha de lectura
1.001,Vestíbulo,Óptico,"8,0","6,0",12,20/11/2026
1.002,Caldera,Térmico,-,-,-,20/11/2026
1.003,Archivo,Multisensor,"8,0","6,0",40,20/11/2026
""",
    [
        row(
            "1.001",
            label="Vestíbulo",
            kind="smoke",
            setting=per_foot(6),
            used=0.12,
            taken_on="2026-11-20",
        ),
        row("1.003", kind="smoke+heat"),
    ],
)
case(
    "two-panels.csv",
    """Panel Name,Detector Address,Detector Type,Label,Sensitivity (%/ft),Status,Drift (%)
West,001,Smoke,Hall,2.5,Normal,10
West,002,Smoke,Attic,1.5,Normal,30
East,001,Smoke,Shop,2.5,Normal,0
East,002,Heat,Boiler,,Normal,
""",
    [
        row("West-001", label="Hall", setting=2.5, used=0.1, control_unit_says=True),
        row("East-001", label="Shop"),
        row("East-002", kind="heat"),
    ],
)
case(
    "remarks.tsv",
    """address\tlabel\tkind\tsetting\tdrift
1-001\tHall\tsmoke\t2.4 %/ft (level 3)\t0.2 %/ft
1-002\tAttic\tsmoke\t1.4 %/ft (level 1)\t0.1 %/ft
1-003\tBoiler\theat\t\t
""",
    [row("1-001", setting=2.4, drift=0.2)],
)
case(
    "framed-loop.txt",
    """+--------------------------------------------------------------+
| HEADS ON LOOP 3                        printed 2026-11-21    |
+------+------------------+-------+---------+---------+--------+
|  No. | Place            | Kind  | Thresh. | Drift   | Limit  |
+------+------------------+-------+---------+---------+--------+
|   1  | Stable           | smoke | 2.8     | 0.2     | 1.4    |
|   2  | Hay loft         | smoke | 1.4     | 0.1     | 0.7    |
|   3  | Tack room        | heat  | --      | --      | --     |
+------+------------------+-------+---------+---------+--------+
""",
    [
        row(
            "3-001",
            label="Stable",
            kind="smoke",
            setting=2.8,
            drift=0.2,
            limit=1.4,
            taken_on="2026-11-21",
        ),
        row("3-003", kind="heat"),
    ],
)

case(
    "loop-and-address.csv",
    """Sensor report for Building 7,,,,,,
,,,,,,
Loop-Addr,Device Label,Sensor Type,Alarm Set Pt (%/ft),Mean Value (%/ft),Highest (%/ft),Compensated (%)
1-1,Hallway West,PHOTO,2.50,0.31,0.62,12
1-2,Hallway East,PHOTO,2.50,0.05,0.10,3
1-3,Boiler,THERMAL,N/A,N/A,N/A,N/A
1-10,Lobby,ION,1.50,0.20,0.33,78
""",
    [
        row("1-1", label="Hallway West", kind="smoke", setting=2.5, now=0.31, used=0.12),
        row("1-3", kind="heat", setting=None),
        row("1-10", kind="smoke", used=0.78),
    ],
)
case(
    "central.txt",
    """Central: C-1   Lazo: 2   Fecha: 21/11/2026
Equipo      Ubicación            Tipo      Sens.(%/m)   Nivel   Mant.(%)
2-001       Comedor              OPT          6,5        0,3       22
2-002       Cocina               TERM          -          -         -
2-003       Sala de juntas       OPT          9,0        0,0        4
""",
    [
        row(
            "2-001",
            label="Comedor",
            kind="smoke",
            setting=per_foot(6.5),
            now=per_foot(0.3),
            taken_on="2026-11-21",
        ),
        row("2-002", kind="heat"),
    ],
)
case(
    "pass-fail-codes.csv",
    """Location;Address;Measured obscuration (%/ft);Low limit;High limit;Pass/Fail;Date
Reception;S-01;2.31;1.2;3.5;P;2026-11-20
Server room;S-02;3.91;1.2;3.5;F;2026-11-20
Workshop;S-03;1.05;1.2;3.5;F;2026-11-20
""",
    [
        row(
            "S-01",
            label="Reception",
            measured=2.31,
            marked_low=1.2,
            marked_high=3.5,
            taken_on="2026-11-20",
            kind="smoke",
            control_unit_says=True,
        ),
        row("S-02", control_unit_says=False),
    ],
)
case(
    "bars-of-phrases.txt",
    """1-001 | Nursery | smoke | set 3.2 | now 0.2 | drift 0.4
1-002 | Switch room | smoke | set 3.2 | now 0.0 | drift 0.1
1-003 | Riser | heat
1-004 | Gym | smoke+heat | set 2.4 | now 0.1 | drift 0.0
""",
    [row("1-001", label="Nursery", kind="smoke"), row("1-003", kind="heat", label="Riser")],
)
case(
    "od-german.csv",
    """Gerät;Text;Typ;Alarmschwelle OD/m;Grundwert OD/m;Driftkompensation %;Stand
01.01;Foyer;Rauch optisch;0,030;0,001;12;21.11.2026
01.02;Lager;Wärme;;;;21.11.2026
01.03;Büro;Rauch optisch;0,025;0,000;0;21.11.2026
""",
    [
        row(
            "01.01",
            label="Foyer",
            kind="smoke",
            setting=100 * (1 - 10 ** (-0.03 * 0.3048)),
            used=0.12,
            taken_on="2026-11-21",
        ),
        row("01.02", kind="heat"),
    ],
)
case(
    "device-lines.txt",
    """Device: 1-001 (Nursery)   Type: smoke   Setting: 3.2 %/ft   Drift: 0.4 %/ft   Used: 25%
Device: 1-002 (Switch room)   Type: smoke   Setting: 3.2 %/ft   Drift: 0.1 %/ft   Used: 6%
Device: 1-003 (Riser)   Type: heat
""",
    [
        row("1-001", label="Nursery", kind="smoke", setting=3.2, drift=0.4, used=0.25),
        row("1-003", kind="heat", label="Riser"),
    ],
)
case(
    "zones.csv",
    """Zone 1 - Ground floor
Addr.,Text,Typ,Sens.,Drift
101,Lobby,photo,2.4 %/ft,0.1 %/ft
102,Store,photo,2.4 %/ft,0.3 %/ft
Zone 2 - First floor
201,Office,photo,1.4 %/ft,0.0 %/ft
202,Kitchen,heat,,
""",
    [
        row("101", label="Lobby", kind="smoke", setting=2.4),
        row("201", label="Office", setting=1.4, drift=0.0),
        row("202", kind="heat"),
    ],
)
case(
    "three-line-headings.txt",
    """DETECTOR STATUS                            DATE: 21-NOV-26   TIME: 07:30
=======================================================================
            DETECTOR         ALARM     PRESENT   DRIFT     DRIFT
ADDRESS     TYPE             SETTING   VALUE     VALUE     ALLOWED
                             (%/FT)    (%/FT)    (%/FT)    (%/FT)
=======================================================================
1-01        PHOTO            2.50      0.10      0.20      1.25
1-02        PHOTO/HEAT       2.00      0.00      0.10      1.00
1-03        HEAT
1-04        PHOTO            2.50      0.10      1.10      1.25
=======================================================================
TOTAL DETECTORS: 4
""",
    [
        row(
            "1-01", kind="smoke", setting=2.5, now=0.1, drift=0.2, limit=1.25, taken_on="2026-11-21"
        ),
        row("1-02", kind="smoke+heat"),
        row("1-03", kind="heat", setting=None),
        row("1-04", drift=1.1),
    ],
)
case(
    "jour-nuit.csv",
    """nr,adresse,libellé,type,seuil jour (%/m),seuil nuit (%/m),dérive (%/m),dérive max (%/m),relevé le
1,B1-01,Salle 1,optique,"8,0","6,5","0,3","3,2",21/11/2026
2,B1-02,Salle 2,optique,"8,0","6,5","0,0","3,2",21/11/2026
3,B1-03,Cuisine,thermique,,,,,21/11/2026
""",
    [
        row(
            "B1-01",
            label="Salle 1",
            kind="smoke",
            setting=per_foot(6.5),
            drift=per_foot(0.3),
            limit=per_foot(3.2),
            taken_on="2026-11-21",
        ),
        row("B1-03", kind="heat"),
    ],
)
case(
    "units-by-row.csv",
    """Address,Label,Type,Sensitivity,Unit,Drift,Date
D1,Hall,smoke,2.4,%/ft,0.1,11/21/2026
D2,Store,smoke,7.5,%/m,0.3,11/21/2026
D3,Kitchen,heat,,,,11/21/2026
""",
    [
        row("D1", setting=2.4, drift=0.1),
        row("D2", setting=per_foot(7.5), drift=per_foot(0.3)),
        row("D3", kind="heat", setting=None),
    ],
)
case(
    "slc.csv",
    """SLC,DEV,DESCRIPTION,MODEL,TYPE,ALARM THRESHOLD,PRE-ALARM THRESHOLD,CURRENT,% OF ALARM
1,1,HALL,PX-1,PHOTO,2.5%,1.9%,0.1%,4
1,2,STORE,PX-1,PHOTO,2.5%,1.9%,0.0%,0
2,1,KITCHEN,HX-1,HEAT,,,,
2,2,LOBBY,PX-1,PHOTO,1.5%,1.1%,0.3%,20
""",
    [row("1-001", label="HALL", kind="smoke", setting=2.5, now=0.1), row("2-001", kind="heat")],
)
case(
    "sentence-above.txt",
    """Sensitivity test 21 Nov 2026, instrument A-14, all marks 0.8-3.2 %/ft
 tag    room                 reading
 T-1    Reception            2.10
 T-2    Library              2.75
 T-3    Stack room           3.40
""",
    [row("T-1", label="Reception", measured=2.1, taken_on="2026-11-21"), row("T-3", measured=3.4)],
)
case(
    "then-and-now.csv",
    """Address,Sensitivity at installation (%/ft),Sensitivity now (%/ft),Location
X1,2.5,2.4,Hall
X2,2.5,2.6,Store
X3,2.5,2.1,Lobby
""",
    [row("X1", label="Hall", setting=None, measured=None)],
)
case(
    "cap.csv",
    """Point,Sensor,Obs. alarm,Obs. clean,Shift,Cap
P01,optical,2.4%/ft,0.02%/ft,+0.10%/ft,1.2%/ft
P02,optical,2.4%/ft,0.01%/ft,-0.05%/ft,1.2%/ft
P03,thermal,-,-,-,-
""",
    [row("P01", kind="smoke", setting=2.4, drift=0.1, limit=1.2), row("P02", drift=-0.05)],
)

case(
    "counted-sentences.txt",
    """(1) 1-001, Corridor 2 east: photoelectric smoke detector. Alarm threshold 2.8 %/ft; dust compensation 0.2 out of 1.4 %/ft.
(2) 1-002, Riser 4: heat detector, 57 °C.
(3) 1-003, Gym office: combined smoke and heat detector. Alarm threshold 2.0 %/ft; dust compensation 0.5 out of 1.0 %/ft.
""",
    [
        row("1-001", label="Corridor 2 east", kind="smoke", setting=2.8, drift=0.2, limit=1.4),
        row("1-002", kind="heat", label="Riser 4"),
        row("1-003", kind="smoke+heat", setting=2.0, drift=0.5),
    ],
)
case(
    "leaders-with-share.txt",
    """1-001 - Corridor 2 east
    Type ............ smoke
    Alarm ........... 2.8 %/ft
    Drift ........... 0.2 %/ft (14 % of allowance)
1-002 - Riser 4
    Type ............ heat
1-003 - Gym office
    Type ............ smoke + heat
    Alarm ........... 2.0 %/ft
    Drift ........... 0.5 %/ft (50 % of allowance)
""",
    [
        row("1-001", label="Corridor 2 east", kind="smoke", setting=2.8, drift=0.2),
        row("1-002", kind="heat", label="Riser 4"),
        row("1-003", kind="smoke+heat", setting=2.0, drift=0.5),
    ],
)
case(
    "phrases-francaises.txt",
    """Détecteur 1-001 (Couloir 2 est) : optique de fumée, seuil 8,9 %/m, encrassement 0,7 %/m sur 4,5 %/m admissibles
Détecteur 1-002 (Cage 4) : thermique 57 °C
Détecteur 1-003 (Salle de sport) : optique-thermique, seuil 6,4 %/m, encrassement 0,0 %/m sur 3,2 %/m admissibles
""",
    [
        row(
            "1-001",
            label="Couloir 2 est",
            kind="smoke",
            setting=per_foot(8.9),
            drift=per_foot(0.7),
        ),
        row("1-002", kind="heat", label="Cage 4"),
        row("1-003", kind="smoke+heat", setting=per_foot(6.4), drift=0.0),
    ],
)
case(
    "two-line-points.txt",
    """ADDR: 1-001  TYPE: SMOKE      LABEL: CORRIDOR 2 EAST
   SENS: 2.80   CHAMBER: 0.10   DRIFT: 0.20   (ALL %/FT)

ADDR: 1-002  TYPE: HEAT       LABEL: RISER 4
   TEMP: 57C

ADDR: 1-003  TYPE: SMOKE/HEAT LABEL: GYM OFFICE
   SENS: 2.00   CHAMBER: 0.00   DRIFT: 0.50   (ALL %/FT)
""",
    [
        row("1-001", label="CORRIDOR 2 EAST", kind="smoke", setting=2.8, now=0.1, drift=0.2),
        row("1-002", kind="heat", label="RISER 4"),
        row("1-003", kind="smoke+heat", setting=2.0, drift=0.5),
    ],
)
case(
    "comment-head.csv",
    """# system: West wing
# printed: 21/11/2026 14:02
# unit: dB/m
addr;text;type;threshold;value;dust
W-001;Reading room;O;0,20;0,01;0,02
W-002;Store;T;;;
W-003;Stack;OT;0,15;0,00;0,05
W-004;Vault;O;0,25;0,02;0,03
""",
    [
        row(
            "W-001",
            label="Reading room",
            kind="smoke",
            setting=100 * (1 - 10 ** (-0.02 * 0.3048)),
            now=100 * (1 - 10 ** (-0.001 * 0.3048)),
            taken_on="2026-11-21",
        ),
        row("W-002", kind="heat"),
        row("W-003", kind="smoke+heat"),
    ],
)
case(
    "two-pages.txt",
    """Sensitivity Report - Page 1 of 2 - 2026-11-21
Addr   Name              Type   Set    Now    Pk     Dirt
1-001  Loading dock      SMOKE  1.4    0.0    0.1    0.1
1-002  Corridor 2 east   SMOKE  2.4    0.0    0.3    0.1

Sensitivity Report - Page 2 of 2 - 2026-11-21
Addr   Name              Type   Set    Now    Pk     Dirt
1-003  Riser 4           SMOKE  1.4    0.2    0.2    0.2
1-004  Level 3 pantry    HEAT
""",
    [
        row(
            "1-001",
            label="Loading dock",
            kind="smoke",
            setting=1.4,
            now=0.0,
            drift=0.1,
            taken_on="2026-11-21",
        ),
        row("1-003", label="Riser 4", setting=1.4, now=0.2),
        row("1-004", kind="heat", label="Level 3 pantry"),
    ],
)
case(
    "measured-per-metre.csv",
    """tag,location,tested on,lower mark,upper mark,reading,unit,meter,by
1-001,Linen store,2026-05-18,3.9,12.2,5.69,%/m,A-14,IS
1-002,Loading dock,2026-05-19,3.9,12.2,13.6,%/m,A-14,IS
1-003,Riser 4,2026-05-20,3.9,12.2,3.79,%/m,A-14,IS
""",
    [
        row(
            "1-001",
            label="Linen store",
            kind="smoke",
            marked_low=per_foot(3.9),
            marked_high=per_foot(12.2),
            measured=per_foot(5.69),
            taken_on="2026-05-18",
        )
    ],
)
case(
    "statusliste.txt",
    """HEAD STATUS LIST            02.11.2026 16:40        SEITE 1

ADR      ORT                      ART           SCHWELLE  PEGEL   GENUTZT
1-001    Kinderkrippe             RAUCH             9,5     0,7     44%
1-002    Schaltraum               RAUCH             9,5     0,0     12%
1-003    Teekueche                WAERME             --      --      --
1-004    Turnhalle                RAUCH+WAERME      9,5     0,7     31%
""",
    [
        row(
            "1-001",
            label="Kinderkrippe",
            kind="smoke",
            setting=per_foot(9.5),
            now=per_foot(0.7),
            used=0.44,
            taken_on="2026-11-02",
        ),
        row("1-003", kind="heat"),
        row("1-004", kind="smoke+heat"),
    ],
)
case(
    "seen.tsv",
    """Detector\tRoom\tKind\tAlarm at\tDrift\tDrift / limit\tSeen
D-1\tHall\tsmoke\t2.4%/ft\t0.3%/ft\t25%\t21 Nov 26
D-2\tStore\theat\t\t\t\t21 Nov 26
D-3\tLobby\tsmoke & heat\t2.0%/ft\t0.0%/ft\t0%\t21 Nov 26
""",
    [
        row(
            "D-1",
            label="Hall",
            kind="smoke",
            setting=2.4,
            drift=0.3,
            used=0.25,
            taken_on="2026-11-21",
        ),
        row("D-3", kind="smoke+heat"),
    ],
)
case(
    "yes-no-kinds.csv",
    """Address,Label,Smoke?,Heat?,Alarm (%/ft),Drift (%/ft)
A1,Hall,yes,no,2.4,0.1
A2,Store,no,yes,,
A3,Lobby,yes,yes,2.0,0.0
""",
    [row("A1", label="Hall", setting=2.4, control_unit_says=None), row("A2", kind="")],
)
case(
    "misspelt.csv",
    """Adress,Descripton,Typ,Treshold %/ft,Presnt %/ft,Soilng %/ft
A1,Hall,smoke,2.4,0.0,0.1
A2,Store,heat,,,
A3,Lobby,smoke,2.0,0.1,0.3
""",
    [
        row("A1", label="Hall", kind="smoke", setting=2.4, now=0.0, drift=0.1),
        row("A2", kind="heat"),
        row("A3", label="Lobby", drift=0.3),
    ],
)
case(
    "ok-column.csv",
    """Date,Time,Address,Reading %/ft,Low,High,OK
2026-11-20,09:14,S1,2.3,1.1,3.6,Y
2026-11-20,09:21,S2,3.8,1.1,3.6,N
2026-11-21,10:02,S3,2.9,1.1,3.6,Y
""",
    [
        row(
            "S1",
            measured=2.3,
            marked_low=1.1,
            marked_high=3.6,
            taken_on="2026-11-20",
            control_unit_says=True,
            kind="smoke",
        ),
        row("S2", control_unit_says=False),
    ],
)

PROSE = b"""Smoke detector sensitivity survey of 11/20/26 (readings in %/ft; marks as on the label)

No. 1: lobby detector (LB-1), marked 1.2 to 3.9, read 2.4, good
No. 2: mail room detector (MR-1), marked 1.2 to 3.9, read 4.1, too insensitive
"""


@pytest.mark.parametrize("name", CASES)
def test_reads_what_a_careful_reader_reads(name):
    data, expected = CASES[name]

    rows = {row.address: row for row in layouts.read(data).rows}

    wrong = []
    for wanted in expected:
        got = rows[wanted["address"]]
        for key, value in wanted.items():
            cell = getattr(got, key)
            cell = cell.isoformat() if hasattr(cell, "isoformat") else cell
            close = (
                isinstance(value, float)
                and cell is not None
                and math.isclose(cell, value, abs_tol=1e-4)
            )
            if cell != value and not close:
                wrong.append((got.address, key, value, cell))
    assert wrong == []


def test_says_that_it_cannot_read_prose():
    with pytest.raises(layouts.Unreadable, match="No table of devices was found"):
        layouts.read(PROSE)


def test_gives_the_figures_of_json_as_they_are_printed():
    printed = (
        '{"address": "1-001", "setting %/ft": 2.50, "drift %/ft": 1.2e-1, "in range": true}\n'
        '{"address": "1-002", "setting %/ft": 2.5, "drift %/ft": 0, "in range": true}\n'
        '{"address": "1-003", "setting %/ft": 1e400, "drift %/ft": 0.3, "in range": false}\n'
    )

    first, _, last = layouts.read(printed.encode()).rows

    assert first.cells == ("1-001", "2.50", "1.2e-1", "true")
    assert (first.setting, first.drift, first.control_unit_says) == (2.5, 0.12, True)
    assert last.cells == ("1-003", "1e400", "0.3", "false")
    assert last.setting is None
    assert len(last.problems) == 1
    assert last.control_unit_says is False
