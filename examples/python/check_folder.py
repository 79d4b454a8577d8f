"""Checks the profiles of a folder, one a .json file, with one request for up to 1000 of them.

    python3 check_folder.py examples/vehicles

WHEEL_TO_DIAL names the address of the service (http://127.0.0.1:8080 if left out).
Exit status: 0 every car conforms to its rule, 1 some do not or are not proven, 2 some not checked.
"""

import json
import pathlib
import sys

from service import NoAnswer, Problem, faulty_fields, post

BATCH = 1000


def profile_of(file):
    try:
        return json.loads(file.read_text(encoding="utf-8"))
    except ValueError as error:
        raise ValueError(f"{file}: {error}") from None


def verdicts_of(result):
    return [verdict["result"] for path in result["paths"] for verdict in path["verdicts"]]


def check(files):
    """Prints a line for each file and returns the exit status."""
    vehicles = [{"ref": file.name, "vehicle": profile_of(file)} for file in files]
    status = 0
    for answer in post("/v1/vehicle-checks/batch", {"vehicles": vehicles})["results"]:
        if answer["ok"]:
            verdicts = verdicts_of(answer["result"])
            conforms = verdicts != [] and set(verdicts) == {"conforms"}
            print(f"{answer['ref']}: {', '.join(verdicts) or 'not judged'}")
            status = max(status, 0 if conforms else 1)
        else:
            for pointer, detail in faulty_fields(answer["problem"]):
                print(f"{answer['ref']}: {pointer}: {detail}")
            status = 2
    return status


def main(arguments):
    files = sorted(pathlib.Path(arguments[0]).glob("*.json")) if len(arguments) == 1 else []
    if not files:
        print("usage: python3 check_folder.py FOLDER, which holds one profile a .json file", file=sys.stderr)
        return 2
    try:
        return max(check(files[start : start + BATCH]) for start in range(0, len(files), BATCH))
    except (NoAnswer, Problem, ValueError) as error:
        print(error, file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
