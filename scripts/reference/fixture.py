"""What every fixture script shares: the source line and the way a fixture is written."""

import json
import sys
from importlib.metadata import version


def source(*libraries, what):
    """A line that names the libraries with their versions and what was called."""
    named = ", ".join(f"{library} {version(library)}" for library in libraries)
    return f"{named}: {what}"


def rows(values):
    """A numpy array as plain lists, each number at full precision."""
    return values.tolist()


def write(fixture):
    """Writes a fixture to standard output, one case or matrix row on a line."""
    sys.stdout.write(_text(fixture, 0) + "\n")


def _text(value, depth):
    flat = json.dumps(value, ensure_ascii=False, allow_nan=False)
    if len(flat) <= 96 - 2 * depth or not isinstance(value, (dict, list)):
        return flat
    inside = "  " * (depth + 1)
    if isinstance(value, dict):
        parts = [f"{json.dumps(k)}: {_text(v, depth + 1)}" for k, v in value.items()]
        open_, close = "{", "}"
    elif all(not isinstance(item, (dict, list)) for item in value):
        return flat
    else:
        parts = [_text(item, depth + 1) for item in value]
        open_, close = "[", "]"
    body = (",\n" + inside).join(parts)
    return f"{open_}\n{inside}{body}\n{'  ' * depth}{close}"
