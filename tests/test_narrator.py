"""What is told of a design's cautions: each once, the gravest first, none of them lost."""

from explore.judgement.severity import SEVERITIES, Severity
from explore.tell.narrator import as_cautions, counted, of_severity, refined

GRAVEST, WARNING, MILDEST = SEVERITIES[0], Severity.WARNING, SEVERITIES[-1]


def test_cautions_come_gravest_first_and_each_once():
    """However they were found: a note, a warning, a danger; the same sentence twice is told once."""
    found = [
        {"text": "mild", "level": MILDEST.value},
        {"text": "grave", "level": GRAVEST.value},
        {"text": "warned", "level": WARNING.value},
        {"text": "grave", "level": GRAVEST.value},
    ]
    told = as_cautions(found)
    assert [one["text"] for one in told] == ["grave", "warned", "mild"]
    assert counted(told) == "1 / 1 / 1"
    assert [one["text"] for one in of_severity(told, GRAVEST)] == ["grave"]


def test_a_caution_of_unknown_weight_is_a_warning():
    """A sentence alone, or a level that nobody knows, is never taken for less than a warning."""
    told = as_cautions(["only words", {"text": "odd", "level": "whisper"}, {"text": ""}])
    assert [one["level"] for one in told] == [WARNING.value, WARNING.value]


def test_what_polishing_left_of_the_recommended_is_said():
    """Settled ones with the greatest gain that was left, others as bettered still, and what is not known as not known."""
    gains = [0.001, 0.002]
    assert refined(gains, 0.0042).endswith(
        "; no step betters a design that the rule puts first by more than 0.42%"
    )
    assert refined(gains, 0.031).endswith(
        ", and the last steps of polishing one that the rule puts first by 3.1%"
    )
    assert refined(gains).endswith("; how far the designs that the rule puts first have settled is not known")
    assert refined([]) == ""
