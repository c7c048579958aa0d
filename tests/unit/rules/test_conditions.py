"""Conditions: what CEL accepts here, what is refused at load, what can't be told.

The expected answers of the language itself follow the Common Expression Language specification
(cel-spec, "Language Definition"); the bounds are this project's own.
"""

import pytest

from review.judge.conditions import Place, RulesetError, Vocabulary, compile_condition

VOCABULARY = Vocabulary(
    {
        "flows": "bool",
        "count": "int",
        "volume": "double",
        "purpose": "string",
        "detectors": "list<string>",
    },
    ["demo.ratio", "demo.ratio.second", "demo.time"],
)
FACTS = {
    "flows": True,
    "count": 3,
    "volume": 0.5,
    "purpose": "show a reduction",
    "detectors": ["hydrogen", "carbon monoxide"],
}
WORST = {"demo.ratio": 0.7, "demo.ratio.second": 2.0, "demo.time": float("inf")}
HERE = Place("site.yaml", 12)


def compiled(text):
    return compile_condition(text, VOCABULARY, HERE)


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("facts.flows", True),
        ("!facts.flows", False),
        ("facts.count + 1 > 3", True),
        ("facts.volume > 0.5", False),
        ("double(facts.count) > facts.volume", True),
        ('facts.purpose.contains("reduction")', True),
        ('"hydrogen" in facts.detectors', True),
        ('facts.detectors.exists(d, d == "oxygen")', False),
        ("facts.detectors.all(d, d.size() > 3) && size(facts.detectors) == 2", True),
        ('facts.detectors.filter(d, d.startsWith("carbon")).size() == 1', True),
        ("worst.demo.ratio > 0.5", True),
        ("worst.demo.ratio.second > 1.0 && worst.demo.ratio < 1.0", True),
        ("worst.demo.time > 1e9", True),
        ("facts.count == 3 ?\n facts.flows : false", True),
    ],
)
def test_answers(text, answer):
    assert compiled(text).evaluate(FACTS, WORST) is answer


FOUR_LOOPS = (
    "facts.detectors.exists(a, facts.detectors.exists(b, facts.detectors.exists(c, "
    "facts.detectors.exists(d, a == b && c == d))))"
)
SIXTY = "[" + ", ".join(map(str, range(60))) + "]"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (FOUR_LOOPS, "4 loops"),
        (f"{SIXTY}.all(a, {SIXTY}.all(b, {SIXTY}.all(c, {SIXTY}.all(d, a + b + c + d > 0))))", "4"),
        ("[1].map(a, a).map(b, b).filter(c, c > 0).size() > 0", "3 loops"),
        ("[1] . all (a, true) && [1].all(b, true) && [1].exists_one(c, true)", "3 loops"),
        ("facts.flows" + " && facts.flows" * 80, "characters"),
        ("3 in [" + ",".join(["1"] * 101) + "]", "100"),
        ("size({" + ",".join(f"{n}:1" for n in range(101)) + "}) > 0", "100"),
        ("size(facts.detectors + facts.detectors) > 2", "joins lists"),
        ("[1, 2].map(a, a + 1).size() > 0", "joins lists"),
        ("facts.volume - facts.volume > 0.0", "computes"),
        ("facts.volume / 0.0 > 0.0", "computes"),
        ('double("NaN") > 0.0', "computes"),
        ("(" * 200 + "true" + ")" * 200, "recursion"),
        ("facts.flow", "did you mean 'facts.flows'"),
        ("worst.demo.ration > 0.5", "did you mean 'worst.demo.ratio'"),
        ("worst.demo > 0.5", "no known measure kind"),
        ("(facts).flows", "no known fact"),
        ("facts", "no known fact"),
        ("other.flows", "undeclared"),
        ("facts.count", "must give bool"),
        ("facts.count > 2.0", "decimal point"),
        ('facts.volume == "much"', "overload"),
        ("true ? 1 : 2", "must give bool"),
        ("has(facts.flows)", "'has' is not allowed"),
        ("dyn(1) == 1", "not a function"),
        ("facts.purpose.startWith('a')", "did you mean 'startsWith'"),
        ("facts.flows || ", "Syntax error"),
        ("", "Syntax error"),
        ("true // always", "comments"),
        ('r"a" == "a"', "plain strings"),
        ('"""a""" == "a"', "plain strings"),
        (r'"\"" == "a"', "not allowed"),
        ("facts.`flows`", "not allowed"),
    ],
)
def test_refused_at_load(text, says):
    with pytest.raises(RulesetError, match=r"^site\.yaml:12: condition") as error:
        compiled(text)
    assert says in str(error.value)


def test_a_macro_name_inside_a_string_is_text():
    text = '"x.all(a, b).all(c, d).all(e, f)" == facts.purpose'
    assert compiled(text).evaluate(FACTS, WORST) is False


@pytest.mark.parametrize(
    ("text", "facts", "worst"),
    [
        ("facts.flows", {}, {}),
        ("facts.flows", {"flows": None}, {}),
        ("facts.flows", {"flows": 1}, {}),
        ("facts.flows", {"flows": "yes"}, {}),
        ("facts.count > 1", {"count": True}, {}),
        ("facts.count > 1", {"count": 10**30}, {}),
        ("facts.count / 0 > 1", {"count": 1}, {}),
        ("facts.volume > 1.0", {"volume": float("nan")}, {}),
        ("facts.volume <= 1.0", {"volume": float("nan")}, {}),
        ("worst.demo.ratio > 1.0", {}, {"demo.ratio": float("nan")}),
        ("worst.demo.ratio < 1.0", {}, {}),
        ('"a" in facts.detectors', {"detectors": ["a"] * 101}, {}),
        ('"a" in facts.detectors', {"detectors": "a"}, {}),
        ('"a" in facts.detectors', {"detectors": ["a", 1]}, {}),
        ('facts.detectors[4] == "a"', {"detectors": ["a"]}, {}),
        ('facts.purpose == "a"', {"purpose": "a" * 1001}, {}),
    ],
)
def test_what_cannot_be_told_is_none(text, facts, worst):
    assert compiled(text).evaluate(facts, worst) is None


def test_a_list_of_a_hundred_is_still_read():
    assert compiled('"a" in facts.detectors').evaluate({"detectors": ["a"] * 100}, {}) is True


def test_an_unknown_fact_matters_only_where_the_answer_depends_on_it():
    assert compiled("facts.flows || facts.count > 1").evaluate({"flows": True}, {}) is True
    assert compiled("facts.flows || facts.count > 1").evaluate({"flows": False}, {}) is None


def test_names_and_kinds_used():
    condition = compiled("facts.flows && worst.demo.ratio.second > 0.0")
    assert condition.names == {"facts.flows", "worst.demo.ratio.second"}
    assert condition.kinds == {"demo.ratio.second"}


def test_a_fact_of_unknown_type_is_refused():
    with pytest.raises(ValueError, match="'map'"):
        Vocabulary({"x": "map"}, [])


FOUND = Vocabulary(
    {"flows": "bool"}, ["demo.ratio"], {"verdict": "string", "unacceptable": "list<string>"}
)


def test_a_ruleset_cannot_ask_what_was_found():
    """Its vocabulary lacks the family, whatever another one has."""
    with pytest.raises(RulesetError, match=r"undeclared reference to 'found\.verdict'"):
        compiled('found.verdict == "may proceed"')


def test_a_vocabulary_with_findings_answers_with_them():
    text = 'facts.flows && "demo.limit" in found.unacceptable'
    condition = compile_condition(text, FOUND, HERE)
    assert condition.names == {"facts.flows", "found.unacceptable"}
    assert condition.evaluate({"flows": True}, {}, {"unacceptable": ["demo.limit"]}) is True
    assert condition.evaluate({"flows": True}, {}, {"unacceptable": []}) is False
    assert condition.evaluate({"flows": True}, {}, {"unacceptable": None}) is None
    assert condition.evaluate({"flows": True}, {}) is None


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("found.verdicts == 'a'", "did you mean 'found.verdict'"),
        ("found == 'a'", "no known result of a review"),
        ("fact.flows", "did you mean 'facts.flows'"),
        ("founds.verdict == 'a'", "did you mean 'found.verdict'"),
    ],
)
def test_a_name_is_helped_on(text, says):
    with pytest.raises(RulesetError) as error:
        compile_condition(text, FOUND, HERE)
    assert says in str(error.value)
