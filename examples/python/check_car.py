"""Checks one car from the fields of a form, where every value is text, as a website receives them.

    python3 check_car.py size=175/70R13 ring=37 pinion=9 driving=6 driven=20 constant=1000 unit=mph

WHEEL_TO_DIAL names the address of the service (http://127.0.0.1:8080 if left out).
Exit status: 0 the car conforms to its rule, 1 it does not or is not proven, 2 not checked.
"""

import re
import sys

from service import NoAnswer, Problem, post

RULE = "un-r39"
FIELDS = ("size", "ring", "pinion", "driving", "driven", "constant", "unit")
# The field of the form that each field of the profile comes from.
FIELD_OF = {
    "#/tires/front/size": "size",
    "#/tires/rear/size": "size",
    "#/paths/0/stages/0/ring": "ring",
    "#/paths/0/stages/0/pinion": "pinion",
    "#/paths/0/stages/1/teeth/driving": "driving",
    "#/paths/0/stages/1/teeth/driven": "driven",
    "#/paths/0/head/constant/perMile": "constant",
    "#/paths/0/head/constant/perKm": "constant",
    "#/paths/0/head/unit": "unit",
}


class FormError(Exception):
    """Text of a field that is not what the field asks for."""


def number(form, name):
    """The number of a field. The service takes JSON numbers, not text, and coerces nothing.

    A comma is refused, not guessed: 1,000 is a thousand to one visitor and one to another.
    """
    text = form[name].strip()
    if re.fullmatch(r"[0-9]+", text):
        return int(text)
    if re.fullmatch(r"[0-9]+\.[0-9]+", text):
        return float(text)
    raise FormError(f"{name}: {text or 'nothing'} is not a number; write it like 14 or 14.5, with a point")


def profile(form):
    """The vehicle profile of the form."""
    unit = form["unit"]
    tire = {"size": form["size"].strip()}
    teeth = {"driving": number(form, "driving"), "driven": number(form, "driven")}
    constant = {"perMile" if unit == "mph" else "perKm": number(form, "constant")}
    return {
        "name": "A visitor's car",
        "rule": RULE,
        "tires": {"front": tire, "rear": tire},
        "paths": [
            {
                "name": "speedometer",
                "axle": "rear",
                "stages": [
                    {"kind": "final-drive", "ring": number(form, "ring"), "pinion": number(form, "pinion")},
                    {"kind": "gear-pair", "teeth": teeth},
                ],
                "head": {"input": "turns", "constant": constant, "unit": unit},
            }
        ],
    }


def main(arguments):
    form = dict(argument.partition("=")[::2] for argument in arguments)
    if set(form) != set(FIELDS):
        print("usage: python3 check_car.py " + " ".join(f"{name}=..." for name in FIELDS), file=sys.stderr)
        return 2
    try:
        answer = post("/v1/vehicle-checks", profile(form))
    except (FormError, NoAnswer) as error:
        print(error, file=sys.stderr)
        return 2
    except Problem as problem:
        for pointer, detail in problem.fields:
            print(f"{FIELD_OF.get(pointer, pointer)}: {detail}", file=sys.stderr)
        return 2
    (path,) = answer["paths"]
    ratio = path["indicatedPerTrue"]
    error, uncertainty = (100 * (ratio["value"] - 1), 100 * ratio["plusMinus"])
    print(f"{'over' if error >= 0 else 'under'}-reads by {abs(error):.1f} % ± {uncertainty:.1f} %")
    for verdict in path["verdicts"]:
        print(f"{verdict['rule']}: {verdict['result']}")
    for finding in answer["findings"]:
        print(f"- {finding['text']}")
    return 0 if all(verdict["result"] == "conforms" for verdict in path["verdicts"]) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
