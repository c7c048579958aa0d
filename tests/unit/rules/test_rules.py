"""Reading, merging and loosening of ruleset layers; all criteria here are invented."""

import hashlib

import pytest

from review.interface.plugin import Kind
from review.judge.conditions import RulesetError, Vocabulary
from review.judge.layers import load_layer
from review.judge.loosening import differences
from review.judge.merging import merge
from review.judge.ruleset import Bands


def kind(name, worse="higher", labels=()):
    return Kind(name, "invented", worse, "1", "1", "m", "invented", "all", labels=labels)


KINDS = {
    k.id: k
    for k in (
        kind("demo.ratio"),
        kind("demo.time", "lower"),
        kind("demo.rating", labels=("good", "fair", "poor")),
        kind("pressure.demo"),
    )
}
VOCABULARY = Vocabulary({"flows": "bool", "count": "int"}, KINDS)
BASE = """\
name: base
criteria:
  - id: demo.ratio
    title: A ratio
    kind: demo.ratio
    applies: facts.flows
    cases: [plan, upset]
    bands: {acceptable: 0.5, tolerable: 0.9}
    bands_in: {upset: {acceptable: 0.7, tolerable: 1.0}}
    floor: tolerable
    action: Lower it.
    basis: {document: invented, clause: "", how: read}
  - id: demo.time
    title: A time
    kind: demo.time
    bands: {acceptable: 60, tolerable: 30}
    action: Make it longer.
    basis: {document: invented, how: read}
  - id: demo.never
    title: Never acceptable
    kind: demo.ratio
    bands: {tolerable: 0.9}
    action: Accept it.
    basis: {document: invented, how: read}
  - id: demo.hard
    title: Never tolerable
    kind: demo.ratio
    bands: {acceptable: 0.5}
    action: Stay below.
    basis: {document: invented, how: read}
  - id: demo.present
    title: Something is there
    require: facts.count > 1
    otherwise: unacceptable
    action: Add one.
    basis: {document: invented, how: read}
limits:
  demo.share: {value: 0.25, unit: "1", range: [0, 1], safer: higher, source: invented, how: read}
  demo.cap: {value: 10, unit: K, range: [1, 500], source: invented, how: read, safer: lower}
  demo.each.*: {unit: mol/mol, range: [1.0e-9, 0.1], safer: lower, data: idlh}
contacts: [first line]
"""


def published(figure, substance):
    if substance != "foam":
        raise LookupError(f"nobody knows {substance!r}")
    return {"idlh": 1.0e-6}[figure]


def merged(*texts_and_ranks):
    layers = [load_layer(text, name, rank) for text, name, rank in texts_and_ranks]
    return merge(layers, VOCABULARY, KINDS, read=["demo.new"], published=published)


def with_site(entry, section="criteria"):
    text = f"name: site\n{section}:\n{entry}"
    return merged((BASE, "base.yaml", "built-in"), (text, "site.yaml", "site"))


def by_id(ruleset, name):
    return next(c for c in ruleset.criteria if c.id == name)


def test_a_layer_becomes_a_ruleset():
    ruleset = merged((BASE, "base.yaml", "built-in"))
    names = [c.id for c in ruleset.criteria]
    assert names == ["demo.hard", "demo.never", "demo.present", "demo.ratio", "demo.time"]
    ratio = by_id(ruleset, "demo.ratio")
    assert ratio.bands["plan"] == Bands(0.5, 0.9)
    assert ratio.bands["upset"] == Bands(0.7, 1.0)
    assert (ratio.cases, ratio.floor, ratio.layer) == (("plan", "upset"), "tolerable", "base")
    assert str(ratio.place) == "base.yaml:3"
    assert by_id(ruleset, "demo.time").cases == ("plan", "step", "upset")
    assert ruleset.limits["demo.share"].value == 0.25
    assert ruleset.contacts == ("first line",)
    assert ruleset.loosened == ()
    assert ruleset.layers[0].sha256 == hashlib.sha256(BASE.encode()).hexdigest()


def test_a_file_is_read_from_its_path(tmp_path):
    path = tmp_path / "site.yaml"
    path.write_text(BASE.replace("bands: {tolerable: 0.9}", "bands: {tolerable: much}"), "utf-8")
    with pytest.raises(RulesetError) as error:
        merge([load_layer(path, "site")], VOCABULARY, KINDS)
    assert (error.value.file, error.value.line) == (str(path), 22)
    path.write_bytes(b"\xff\xfe\xfa")
    with pytest.raises(RulesetError, match="can't be read"):
        load_layer(path, "site")


def test_labels_are_band_edges():
    text = BASE.split("  - id: demo.time")[0].replace("kind: demo.ratio", "kind: demo.rating")
    text = text.replace("acceptable: 0.5, tolerable: 0.9", "acceptable: good, tolerable: fair")
    ruleset = merged((text, "base.yaml", "built-in"))
    assert ruleset.criteria[0].bands["plan"] == Bands(0.0, 1.0)
    with pytest.raises(RulesetError, match="did you mean 'fair'"):
        merged((text.replace("tolerable: fair", "tolerable: fare"), "base.yaml", "built-in"))


#: (what to write as the site's entry, what the loosening is called)
LOOSENING = [
    ("{id: demo.ratio, bands: {acceptable: 0.6, tolerable: 0.9}}", "acceptable edge"),
    ("{id: demo.ratio, bands: {acceptable: 0.5, tolerable: 0.95}}", "unacceptable begins later"),
    ("{id: demo.ratio, bands: {acceptable: 0.8}, bands_in: {}}", "acceptable edge"),
    ("{id: demo.ratio, bands_in: {upset: {acceptable: 0.8, tolerable: 1}}}", "case upset"),
    ("{id: demo.time, bands: {acceptable: 50, tolerable: 30}}", "acceptable edge"),
    ("{id: demo.time, bands: {acceptable: 60, tolerable: 20}}", "unacceptable begins later"),
    ("{id: demo.never, bands: {acceptable: 0.1, tolerable: 0.9}}", "acceptable edge"),
    ("{id: demo.hard, bands: {acceptable: 0.5, tolerable: 0.6}}", "unacceptable begins later"),
    ("{id: demo.ratio, cases: [upset]}", "no longer judged in case plan"),
    ("{id: demo.time, cases: [plan, step, sample]}", "no longer judged in case upset"),
    ("{id: demo.ratio, applies: facts.flows && facts.count > 1}", "applies changed"),
    ("{id: demo.time, applies: facts.flows}", "applies changed"),
    ("{id: demo.ratio, floor: acceptable}", "floor"),
    ("{id: demo.present, otherwise: tolerable}", "otherwise"),
    ("{id: demo.present, require: facts.count > 0}", "require changed"),
    ("{id: demo.time, if_undetermined: {condition: ask}}", "no longer blocks"),
]


@pytest.mark.parametrize(("entry", "what"), LOOSENING)
def test_loosening_needs_a_reason_and_is_recorded(entry, what):
    with pytest.raises(RulesetError, match=r"^site\.yaml:3: .*needs a reason") as error:
        with_site(f"  - {entry}")
    assert what in str(error.value)
    ruleset = with_site(f"  - {entry[:-1]}, reason: measured here}}")
    assert ruleset.loosened
    for record in ruleset.loosened:
        assert (record.layer, record.reason) == ("site", "measured here")
    assert any(what in record.what for record in ruleset.loosened)
    name = ruleset.loosened[0].criterion
    assert by_id(ruleset, name).layer == "site"


@pytest.mark.parametrize(
    "entry",
    [
        "{id: demo.ratio, bands: {acceptable: 0.4, tolerable: 0.8}, bands_in: {}}",
        "{id: demo.ratio, bands: {tolerable: 0.9}, bands_in: {}}",
        "{id: demo.ratio, bands: {acceptable: 0.5}, bands_in: {}}",
        "{id: demo.time, bands: {acceptable: 61, tolerable: 31}}",
        "{id: demo.ratio, cases: [plan, step, upset, sample]}",
        '{id: demo.ratio, applies: "true"}',
        "{id: demo.time, floor: tolerable}",
        "{id: demo.ratio, title: Another title, action: Lower it now.}",
        "{id: demo.ratio, if_undetermined: block}",
    ],
)
def test_tightening_is_free(entry):
    ruleset = with_site(f"  - {entry}")
    assert ruleset.loosened == ()
    assert [c.layer for c in ruleset.criteria].count("site") == 1


def test_a_patch_keeps_what_it_does_not_give():
    milder = "  - {id: demo.ratio, bands: {acceptable: 0.8, tolerable: 0.9}, reason: x}"
    ratio = by_id(with_site(milder), "demo.ratio")
    assert ratio.bands["plan"] == Bands(0.8, 0.9)
    assert ratio.bands["upset"] == Bands(0.7, 1.0)
    assert (ratio.title, ratio.floor, ratio.applies.text) == (
        "A ratio",
        "tolerable",
        "facts.flows",
    )


@pytest.mark.parametrize(
    "bands", ["{acceptable: 0.4, tolerable: 0.9}", "{acceptable: 0.5}", "{tolerable: 0.9}"]
)
def test_stricter_bands_bind_single_cases_or_say_so(bands):
    with pytest.raises(RulesetError, match=r"^site\.yaml:3: .*leave case upset as it was"):
        with_site(f"  - {{id: demo.ratio, bands: {bands}}}")
    stated = f"  - {{id: demo.ratio, bands: {bands}, bands_in: {{}}}}"
    bound = by_id(with_site(stated), "demo.ratio")
    assert bound.bands["upset"] == bound.bands["plan"]


def test_disabling_keeps_the_criterion_visible():
    with pytest.raises(RulesetError, match="disabled needs a reason"):
        with_site("  - {id: demo.time, disabled: yes}")
    ruleset = with_site("  - {id: demo.time, disabled: yes, reason: no timer here}")
    time = by_id(ruleset, "demo.time")
    assert (time.disabled, time.disabled_reason) == (True, "no timer here")
    assert [(r.criterion, r.what) for r in ruleset.loosened] == [("demo.time", "disabled")]


@pytest.mark.parametrize("name", ["pressure.demo", "demo.other"])
def test_ignition_breathing_and_bursting_must_block(name):
    text = BASE.replace("  - id: demo.time", f"  - id: {name}", 1)
    text = text.replace("kind: demo.time", "kind: pressure.demo")
    text = text.replace("{acceptable: 60, tolerable: 30}", "{acceptable: 1, tolerable: 2}")
    text = text.replace(
        "    action: Make", "    if_undetermined: {condition: ask}\n    action: Make"
    )
    with pytest.raises(RulesetError, match=r"base\.yaml:17: .*must block"):
        merged((text, "base.yaml", "built-in"))


@pytest.mark.parametrize(
    ("entry", "free"),
    [
        ("demo.cap: {value: 9, source: ours, how: read}", True),
        ("demo.cap: {value: 11, source: ours, how: read}", False),
        ("demo.share: {value: 0.2, source: ours, how: read}", False),
        ("demo.share: {value: 0.3, source: ours, how: read}", True),
        ("demo.share: {value: 20, unit: '%', source: ours, how: read}", False),
        ("demo.share: {value: 30, unit: '%', source: ours, how: read}", True),
        ("demo.cap: {value: -264, unit: degC, source: ours, how: read}", True),
        ("demo.cap: {value: -262, unit: degC, source: ours, how: read}", False),
        ("demo.each.foam: {value: 0.9, unit: ppm, source: ours, how: read}", True),
        ("demo.each.foam: {value: 1.1, unit: ppm, source: ours, how: read}", False),
        ("demo.share: {source: another edition}", True),
    ],
)
def test_limits_move_freely_only_to_the_safer_side(entry, free):
    if free:
        ruleset = with_site(f"  {entry}", "limits")
        assert ruleset.loosened == ()
    else:
        with pytest.raises(RulesetError, match=r"site\.yaml:3: .*needs a reason"):
            with_site(f"  {entry}", "limits")
        ruleset = with_site(f"  {entry[:-1]}, reason: measured}}", "limits")
        assert [r.reason for r in ruleset.loosened] == ["measured"]
    assert "site" in {limit.layer for limit in ruleset.limits.values()}


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ("demo.share: {value: 0.3, reason: measured}", "lacks source, how"),
        ("demo.share: {value: 0.9, source: a, how: read, safer: lower}", "only the layer"),
        ("demo.share: {value: 0.9, source: a, how: read, range: [0, 9]}", "only the layer"),
        ("demo.share: {value: -0.1, source: a, how: read}", "outside the range"),
        ("demo.share: {value: 1.1, source: a, how: read}", "outside the range"),
        ("demo.share: {value: 1, unit: bar, source: a, how: read}", "is not read as 1"),
        ("demo.cap: {value: 300, unit: K, unit: degC, source: a, how: read}", "already given"),
        ("demo.cap: {unit: degC, source: a, how: read}", "unit without a value"),
        ("demo.shares: {value: 0.3, source: a, how: read}", "did you mean 'demo.share'"),
        ("demo.each.tar: {value: 1.0e-6, source: a, how: read}", "nobody knows 'tar'"),
        ("demo.each.foam: {value: 2.0, unit: '%', reason: x}", "lacks source, how"),
        ("demo.each.foam: {value: 20, unit: '%', source: a, how: read}", "outside the range"),
        ("demo.new: {value: 9, source: a, how: read}", "lacks unit, range, safer"),
        ("demo.cap: {value: .inf, source: a, how: read}", "finite"),
        ("demo.cap: {value: nan, source: a, how: read}", "finite"),
        ("demo.cap: {value: 1e999, source: a, how: read}", "finite"),
        ("demo.cap: {value: 1_000, source: a, how: read}", "finite"),
        ("demo.cap: {valeu: 1, source: a, how: read}", "did you mean 'value'"),
    ],
)
def test_limits_refused(entry, says):
    with pytest.raises(RulesetError, match=r"^site\.yaml:3: ") as error:
        with_site(f"  {entry}", "limits")
    assert says in str(error.value)


def test_the_hash_of_limits_follows_their_values():
    before = merged((BASE, "base.yaml", "built-in"))
    after = with_site("  demo.cap: {value: 9, source: ours, how: read}", "limits")
    names = ["demo.share", "demo.cap"]
    assert before.limits_hash(names) == before.limits_hash(names[::-1] + names)
    assert before.limits_hash(names) != after.limits_hash(names)
    assert before.limits_hash(["demo.share"]) == after.limits_hash(["demo.share"])
    assert before.limits_hash([]) != before.limits_hash(["demo.unknown"])


#: (text to replace in BASE, by what, line of the error, part of the message)
MALFORMED = [
    ("    title: A time", "    titel: A time", 14, "did you mean 'title'"),
    ("criteria:", "critera:", 2, "did you mean 'criteria'"),
    ("    title: A time", "    title: A time\n    title: Again", 15, "already given in line 14"),
    ("id: demo.time", "id: demo.ratio", 13, "already defined at base.yaml:3"),
    ("id: demo.time", "id: Demo.Time", 13, "dotted lower-case"),
    ("kind: demo.time", "kind: demo.tiem", 15, "did you mean 'demo.time'"),
    ("acceptable: 60", "acceptable: .nan", 16, "finite"),
    ("acceptable: 60", "acceptable: 60 s", 16, "finite"),
    ("acceptable: 60", "aceptable: 60", 16, "did you mean 'acceptable'"),
    ("{acceptable: 60, tolerable: 30}", "{acceptable: 30, tolerable: 60}", 16, "lies beyond"),
    ("{acceptable: 60, tolerable: 30}", "{}", 16, "no edge"),
    ("cases: [plan, upset]", "cases: [plan, upsets]", 7, "did you mean 'upset'"),
    ("cases: [plan, upset]", "cases: []", 7, "cases is empty"),
    ("cases: [plan, upset]", "cases: [plan]", 9, "not in cases"),
    ("cases: [plan, upset]", "cases: plan", 7, "must be a list"),
    ("applies: facts.flows", "applies: facts.flow", 6, "did you mean 'facts.flows'"),
    ("floor: tolerable", "floor: unacceptable", 10, "not known"),
    ("    require:", "    floor: tolerable\n    require:", 33, "does not go with"),
    ("    kind: demo.time", "    require: facts.flows\n    kind: demo.time", 13, "both"),
    ("    kind: demo.time\n", "", 13, "kind (or require)"),
    ("    action: Make it longer.\n", "", 13, "lacks action"),
    ("    action: Make it longer.\n", "    action: ''\n", 17, "blank"),
    ('clause: "", how: read', 'clause: ""', 12, "basis lacks how"),
    ("contacts: [first line]", "contacts: first line", 41, "must be a list"),
    ("contacts: [first line]", "contacts: [first line", 42, "is no YAML"),
    ("name: base", "name: &a base\nextra: *a", 1, "aliases"),
]


@pytest.mark.parametrize(("old", "new", "line", "says"), MALFORMED)
def test_malformed_names_file_and_line(old, new, line, says):
    assert old in BASE
    with pytest.raises(RulesetError) as error:
        merged((BASE.replace(old, new, 1), "base.yaml", "built-in"))
    assert says in str(error.value)
    assert (error.value.file, error.value.line) == ("base.yaml", line)


@pytest.mark.parametrize("text", ["", "- a", "just text", "a: {[1]: 2}", "[" * 5000, "\x00"])
def test_what_is_no_ruleset_at_all(text):
    with pytest.raises(RulesetError, match=r"^base\.yaml:1: "):
        load_layer(text, "base.yaml")


def test_all_problems_of_a_file_are_told_at_once():
    text = BASE.replace("title: A time", "titel: A time").replace("value: 10", "valeu: 10")
    with pytest.raises(RulesetError) as error:
        load_layer(text, "base.yaml")
    assert [place.line for place, _ in error.value.problems] == [14, 39]
    text = BASE.replace("facts.flows", "facts.no").replace("acceptable: 60", "acceptable: x")
    with pytest.raises(RulesetError) as error:
        merged((text, "base.yaml", "built-in"))
    assert [place.line for place, _ in error.value.problems] == [6, 16]


def test_two_layers_of_one_rank_may_not_define_the_same():
    for rank in ("built-in", "plugin", "site"):
        with pytest.raises(RulesetError) as error:
            merged((BASE, "one.yaml", rank), (BASE.replace("base", "two"), "two.yaml", rank))
        text = str(error.value)
        assert "two.yaml:3: criterion 'demo.ratio' is already defined at one.yaml:3" in text
        assert "limit 'demo.share' is already defined" in text


def test_ranks_decide_and_not_the_order_of_loading():
    plugin = "criteria:\n  - {id: demo.time, bands: {acceptable: 70, tolerable: 40}}"
    site = "criteria:\n  - {id: demo.time, bands: {acceptable: 80, tolerable: 50}}"
    sources = [(BASE, "base", "built-in"), (plugin, "plug", "plugin"), (site, "site", "site")]
    forward, backward = merged(*sources), merged(*sources[::-1])
    for ruleset in (forward, backward):
        assert by_id(ruleset, "demo.time").bands["plan"] == Bands(80.0, 50.0)
        assert [layer.name for layer in ruleset.layers] == ["base", "plug", "site"]
    looser = site.replace("80", "65")
    with pytest.raises(RulesetError, match="acceptable edge"):
        merged(*sources[:2], (looser, "site", "site"))


def test_a_patch_without_a_base_is_refused_with_the_nearest_id():
    with pytest.raises(RulesetError, match="no earlier layer defines it; did you mean 'demo.time'"):
        with_site("  - {id: demo.tim, bands: {acceptable: 70}}")


def test_a_later_layer_cannot_change_the_kind():
    with pytest.raises(RulesetError, match="can't change the kind"):
        with_site("  - {id: demo.time, kind: demo.ratio, reason: why not}")


def test_what_differs_from_the_built_in_rules_is_said_in_words():
    plain = load_layer(
        """
name: plain
criteria:
  - id: demo.one
    title: A ratio
    kind: demo.ratio
    bands: {acceptable: 0.5, tolerable: 1.0}
    action: Less.
    basis: {document: a, how: read}
limits:
  demo.limit: {value: 2, unit: "1", range: [0, 9], safer: lower, source: a, how: read}
""",
        "plain",
        "built-in",
    )
    site = load_layer(
        """
name: site
criteria:
  - id: demo.one
    bands: {acceptable: 0.4, tolerable: 1.0}
  - id: demo.two
    title: Another
    require: "true"
    action: More.
    basis: {document: b, how: read}
limits:
  demo.limit: {value: 1, source: b, how: read, reason: ours is stricter}
  demo.other: {value: 3, unit: "1", range: [0, 9], safer: lower, source: b, how: read}
""",
        "site",
    )
    built_in, effective = (
        merge(layers, VOCABULARY, KINDS, read=["demo.other"])
        for layers in ([plain], [plain, site])
    )
    told = list(differences(built_in, effective))
    assert told == [
        "demo.one is changed by site: bands",
        "demo.two is added by site",
        "limit demo.limit is 1 instead of 2 by site",
        "limit demo.other is set to 3 by site",
    ]
    assert not list(differences(built_in, built_in))


def test_a_site_that_names_another_source_keeps_the_number():
    ruleset = with_site("  demo.cap: {source: ours, how: read, reason: a newer edition}", "limits")
    assert ruleset.limits["demo.cap"].value == 10.0
    assert ruleset.limits["demo.cap"].source == "ours"
