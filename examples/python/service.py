"""One request to the service, with the standard library alone."""

import json
import os
import time
import urllib.error
import urllib.request

ADDRESS = os.environ.get("WHEEL_TO_DIAL", "http://127.0.0.1:8080").rstrip("/")
ATTEMPTS = 5
# Statuses that are worth another attempt; calculations are safe to repeat.
LATER = (429, 502, 503, 504)


class NoAnswer(Exception):
    """The service cannot be reached, or something else answered."""


class Problem(Exception):
    """A problem answer (RFC 9457): match on its code, show the detail of each field."""

    def __init__(self, body):
        super().__init__(body["detail"])
        self.code = body["code"]
        self.fields = faulty_fields(body)


def faulty_fields(problem):
    """Pointer and detail of each faulty field; of the whole request if the problem names no field."""
    errors = [(error.get("pointer", "#"), error["detail"]) for error in problem.get("errors", [])]
    return errors or [("#", problem["detail"])]


def post(path, body):
    """Sends JSON and returns the JSON of the answer; waits and repeats it while the service is busy."""
    data = json.dumps(body, allow_nan=False).encode()
    request = urllib.request.Request(ADDRESS + path, data, {"content-type": "application/json"})
    for attempt in range(1, ATTEMPTS + 1):
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:
                return json.load(answer)
        except urllib.error.HTTPError as error:
            if error.code in LATER and attempt < ATTEMPTS:
                time.sleep(int(error.headers.get("retry-after", 2**attempt)))
                continue
            raise problem_of(error) from None
        except OSError as error:
            raise NoAnswer(f"{ADDRESS} did not answer ({getattr(error, 'reason', error)})") from None


def problem_of(error):
    try:
        return Problem(json.load(error))
    except (ValueError, KeyError, TypeError):
        return NoAnswer(f"{ADDRESS} answered {error.code}, and not like this service")
