"""What Capful's description promises beyond what schemathesis checks by itself."""

import re

import schemathesis
from schemathesis.core.parameters import ParameterLocation

# Why a request that the description allows may be refused: what no description can say. Each is
# the kind of problem, and what its detail says.
RELATIONS = [
    # Something that is not there, or is there already, or has gone on since.
    ("not-found", r"."),
    ("conflict", r"."),
    ("still-running", r"."),
    ("key-used", r"."),
    ("stale", r"."),
    ("no-version", r"."),
    ("refused", r"."),
    ("scope-too-narrow", r"what sets up is undone with a token of scope"),
    ("bad-query", r"what the page before gave as `next`|there is no product"),
    ("bad-body", r"that the shop has"),
    # The clock, the calendar, the product, the currency.
    ("bad-body", r"a time that has come"),
    ("bad-body", r"no finer than [A-Z]{3} is counted"),
    ("bad-body", r"a unit that fits|is not weighed|the ledger can hold"),
    ("bad-body", r"at least [0-9.]+ "),
    ("bad-body", r"prices are in it, it stays"),
    ("bad-body", r"whose check digit is right"),
    # Fields that go together, or with the address.
    ("bad-body", r"as the address has it"),
    ("bad-body", r"other products than itself"),
    ("bad-body", r"nothing, as (a|no) quantity is given|or `gross_g` or `sealed`"),
    ("bad-body", r"as other fields say that these jobs come back"),
    # The text of a folder's files has rules of its own.
    ("bad-body", r"rows? of the folder (is|are) not as (it|they) should be"),
]


@schemathesis.hook
def before_call(context, case, kwargs):
    """Puts a version in the place of one that was made up from what an answer said before.

    With it every request would be refused for its headers, and no body would ever be read.
    """
    meta = case.meta
    if meta is None or meta.is_negative_at(ParameterLocation.HEADER) or _has_its_headers(case):
        return
    case.headers["If-Match"] = '"1"'


def _has_its_headers(case):
    """Whether the headers are as described: some are made up from what an answer said before."""
    described = case.operation.get_parameter_set(ParameterLocation.HEADER)
    own = {name: value for name, value in (case.headers or {}).items() if name in described}
    return described.get_strict_validator().is_valid(own)


def _is_relation(kind, detail):
    return any(kind == own and re.search(text, detail) for own, text in RELATIONS)


@schemathesis.check
def refused_for_a_reason(ctx, response, case):
    """What the description allows is refused only for what it cannot say."""
    meta = case.meta
    if meta is None or not meta.generation.mode.is_positive or response.status_code < 400:
        return
    if response.status_code >= 500 or response.status_code in (401, 405):
        return
    problem = response.json()
    kind = problem["type"].rsplit("/", 1)[-1]
    details = [error["detail"] for error in problem.get("errors", [])] or [problem["detail"]]
    if kind == "bad-body" and re.search(RELATIONS[-1][1], problem["detail"]):
        return
    if kind == "bad-request" and not _has_its_headers(case):
        return
    avoidable = [detail for detail in details if not _is_relation(kind, detail)]
    assert not avoidable, f"refused as {kind}, which the description could say: {avoidable[:3]}"


@schemathesis.check
def a_problem_says_who_and_what(ctx, response, case):
    """Every problem has the request's id and the status of its answer."""
    if response.status_code < 400 or response.headers.get("content-type") is None:
        return
    problem = response.json()
    assert problem["status"] == response.status_code, problem
    assert [problem["request_id"]] == response.headers["x-request-id"], problem
