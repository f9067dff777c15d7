"""Lists as people type them, in six languages; makers and models are invented.

Each with the columns it holds, whether these must be asked, its machines' fleet numbers, and some of what one
of its machines is. Common practice, no source.
"""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any


@dataclass(frozen=True)
class Case:
    """A list and what is read from it. fact: what the machine of that fleet number is."""

    name: str
    text: str
    columns: str
    tags: str
    of: str = ""
    fact: dict[str, Any] = field(default_factory=dict)
    asked: bool = False
    open: frozenset[str] = frozenset()


CASES = [
    Case(
        "English, tabs from a spreadsheet",
        "Fleet no\tMake\tModel\tCategory\tSerial number\tHours\tIn service since\tYard\n"
        "T-01\tArden\t40C\tCompact tractor\tAR-1\t1204.5\t2019-05-13\tHome yard\n"
        "T-02\tBrock\tME 18\tMini-excavator\tBR-2\t3,240.5\t2021-01-31\tHome yard\n",
        "tag maker model category serial hours since yard",
        "T-01 T-02",
        "T-02",
        {"hours": Decimal("3240.5"), "since": date(2021, 1, 31), "serial": "BR-2"},
    ),
    Case(
        "English, machine and description, total below",
        "Machines at 1 March\n\nUnit,Description,Hour meter,Date bought,Cost\n"
        '12,Arden 40C,1204.5,31/05/2019,"£18,500.00"\n14,Brock ME 18,871,01/02/2020,"£22,000.00"\n'
        'Total,,2075.5,,"£40,500.00"\n',
        "tag type hours since price",
        "12 14",
        "14",
        {"since": date(2020, 2, 1)},
    ),
    Case(
        "German, decimal commas and dotted days",
        "Maschinenliste\nKennz.\tHersteller\tTyp\tArt\tBetriebsstunden\tStand vom\tIm Einsatz seit\t"
        "Standort\n"
        "S 7\tArden\t40C\tSchlepper\t3.240,5\t28.02.2026\t13.05.2019\tHome yard\n"
        "B 2\tBrock\tME 18\tMinibagger\t871\t28.02.2026\t2020\tHome yard\n"
        "Summe\t\t\t\t4.111,5\n",
        "tag maker model category hours hours_day since yard",
        "S 7|B 2",
        "S 7",
        {"hours": Decimal("3240.5"), "since": date(2019, 5, 13)},
    ),
    Case(
        "German, semicolons, price in euros",
        "Inventar-Nr.;Fabrikat;Modell;Seriennummer;Zählerstand;Inbetriebnahme;Anschaffungspreis;Mietpark;Einsatz\n"
        "0017;Arden;40C;AR 77;1.204 h;03.05.2019;18.500,00 €;ja;Staub\n"
        "0018;Arden;40C;AR 78;871,5 h;01.10.2020;18.500,-;nein;normal\n",
        "tag maker model serial hours since price for_hire condition",
        "0017 0018",
        "0017",
        {"hours": Decimal(1204), "price": Decimal(18500), "for_hire": True, "condition": "dust"},
    ),
    Case(
        "French, two columns and blanks between thousands",
        "N° parc;Marque;Modèle;N° de série;Heures compteur;Relevé le;Mise en service;Prix d'achat;Dépôt\n"
        "P 3;Arden;40C;A 1;3 240,5;28/02/2026;13/05/2019;18 500 €;Home yard\n"
        "P 4;Brock;ME 18;A 2;12;28/02/2026;14/06/2025;22 000 €;Home yard\n",
        "tag maker model serial hours hours_day since price yard",
        "P 3|P 4",
        "P 3",
        {"hours": Decimal("3240.5"), "price": Decimal(18500), "since": date(2019, 5, 13)},
    ),
    Case(
        "French, in one column, for hire under Location",
        "Numéro\tMarque et modèle\tCatégorie\tHeures\tEn service depuis\tLocation\n"
        "1\tArden 40C\ttracteur\t3 240 h\t15 mai 2019\toui\n"
        "2\tBrock ME 18\tmini-pelle\t871 h\t2 févr. 2020\tnon\n",
        "tag type category hours since for_hire",
        "1 2",
        "1",
        {"hours": Decimal(3240), "for_hire": True, "since": date(2019, 5, 15)},
    ),
    Case(
        "Spanish",
        "Código;Marca;Modelo;Tipo;Nº de serie;Horómetro;En servicio desde;Ubicación;Notas\n"
        "E-1;Arden;40C;tractor;S1;1.204,5;13/05/2019;Home yard;neumático nuevo\n"
        "E-2;Brock;ME 18;miniexcavadora;S2;871;31/01/2020;Home yard;\n",
        "tag maker model category serial hours since yard note",
        "E-1 E-2",
        "E-1",
        {"hours": Decimal("1204.5"), "note": "neumático nuevo"},
    ),
    Case(
        "Italian",
        "Matricola,Numero interno,Costruttore,Modello,Ore,Data acquisto,Prezzo,A noleggio,Ambiente\n"
        'X1,M01,Arden,40C,"1.204,5",13/05/2019,"18.500,00",sì,polvere\n'
        'X2,M02,Brock,ME 18,871,31/01/2020,"22.000,00",no,\n',
        "serial tag maker model hours since price for_hire condition",
        "M01 M02",
        "M01",
        {"hours": Decimal("1204.5"), "for_hire": True, "condition": "dust", "serial": "X1"},
    ),
    Case(
        "Dutch",
        "Machinenummer\tMerk\tType\tSoort\tUrenstand\tIn gebruik sinds\tLocatie\tVerhuur\tOpmerking\n"
        "K-1\tArden\t40C\ttrekker\t3.240\t13-05-2019\tHome yard\tja\tcabine\n"
        "K-2\tBrock\tME 18\tminigraver\t871,5\t31-01-2020\tHome yard\tnee\t\n",
        "tag maker model category hours since yard for_hire note",
        "K-1 K-2",
        "K-1",
        {"hours": Decimal(3240), "for_hire": True},
    ),
    Case(
        "no headings, told by what they hold",
        "T-01\tArden 40C\t1204.5\t13.05.2019\nT-02\tBrock ME 18\t871\t31.01.2020\n",
        "tag type hours since",
        "T-01 T-02",
        "T-01",
        {"hours": Decimal("1204.5")},
    ),
    Case(
        "no headings, two columns of words",
        "T-01;Arden;40C;1204,5\nT-02;Brock;ME 18;871\n",
        "tag maker model hours",
        "T-01 T-02",
        asked=True,
        open=frozenset({"since"}),
    ),
    Case(
        "no fleet number at all",
        "Make,Model,Hours,In service since\nArden,40C,1204,2019-05-13\nBrock,ME 18,12,2020-05-13\n",
        "maker model hours since",
        " | ",
        asked=True,
    ),
    Case(
        "year of manufacture is asked about",
        "Nr.;Bezeichnung;Baujahr;Std\n1;Arden 40C;2019;1204\n2;Brock ME 18;2021;87\n",
        "tag type since hours",
        "1 2",
        "1",
        {"since": date(2019, 1, 1)},
        asked=True,
    ),
    Case(
        "months named, hours when it came, months alone",
        "Fleet number,Make and model,Hours when bought,Hours now,Hours read on,In service since,PIN\n"
        "T-1,Arden 40C,100,1204,28 Feb 2026,May 2019,ard40c00000000001\n",
        "tag type hours_before hours hours_day since pin",
        "T-1",
        "T-1",
        {"hours_before": Decimal(100), "since": date(2019, 5, 1), "pin": "ARD40C00000000001"},
    ),
    Case(
        "other figures beside the hours are not read",
        "Fleet;Machine;Hours;Next service at h;Odometer km;Fuel litres;Day rate;In service\n"
        "T-1;Arden 40C;1204;1250;900;40;120;2019-05-13\n",
        "tag type hours since",
        "T-1",
        "T-1",
        {"hours": Decimal(1204)},
    ),
    Case(
        "units below the headings, remarks below the machines",
        "ID\tModell\tStunden\tPreis\tSeit\n\t\th\tEUR\t\nT-1\tArden 40C\t12,5\t18500\t13.5.2019\n"
        "Stand der Liste: Ende Februar\n",
        "tag type hours price since",
        "T-1",
        "T-1",
        {"hours": Decimal("12.5"), "price": Decimal(18500)},
    ),
    Case(
        "typed with blanks between the columns",
        "Tag     Model            Hours     Since\nT-1     Arden 40C        1204      2019-05-13\n"
        "T-2     Brock ME 18      871       2020-01-31\n",
        "tag type hours since",
        "T-1 T-2",
        "T-2",
        {"hours": Decimal(871)},
    ),
    Case(
        "an apostrophe between thousands, Swiss francs",
        "Nummer;Marke;Typ;Betriebsstunden;Kaufdatum;Wert\nM1;Arden;40C;3'240.5;13.05.2019;\n",
        "tag maker model hours since price",
        "M1",
        "M1",
        {"hours": Decimal("3240.5")},
    ),
]
