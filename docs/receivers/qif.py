"""Reads a QIF 3.0 document of results: an example to start from. Python and nothing else.

python qif.py FILE.qif
"""

import sys
from xml.etree.ElementTree import parse

Q = "{http://qifstandards.org/xsd/qif3}"


def attribute(part, name):
    found = [one.get("value") for one in part.iter() if one.get("name") == name]
    return found[0] if found else "-"


for results in parse(sys.argv[1]).iter(f"{Q}MeasurementResults"):
    status = results.findtext(f"{Q}InspectionStatus/{Q}InspectionStatusEnum")
    began = results.findtext(f"{Q}InspectionTraceability/{Q}InspectionStart")
    print(attribute(results, "inspection"), attribute(results, "engine"), began, status)
    for measured in results.findall(f".//{Q}CharacteristicMeasurements/*"):
        value = measured.find(f"{Q}Value")
        figure = "" if value is None else f"{value.text} mm ± {value.get('combinedUncertainty')}"
        told = measured.findtext(f"{Q}Status/{Q}CharacteristicStatusEnum")
        print("  ", measured.tag.removeprefix(Q), told, figure)
