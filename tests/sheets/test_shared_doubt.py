"""What several answers share is said once: the constant under all forces, and notes about the loads."""

from __future__ import annotations

from dataclasses import replace

import pytest

from firstoff.facts.fact import Evidence, Fact, FactSet
from firstoff.sheets.shared_doubt import own_doubt, shared_doubt, shared_notes, without_notes
from firstoff.sheets.wording import doubt_words
from firstoff.verdict.question import Question, Risk, Share
from tests.sheets import hand_built as made
from tests.sheets.test_terminal_page import printed

KC, FIT = "materials.al-6082.kc", "materials.al-6082.model_factor"
NOTE = "em6: only the greatest loads were kept."


def known(kc_u: float = 350.0) -> FactSet:
    facts = made.facts()
    more = (
        Fact(KC, 900.0, kc_u, "N/mm²", evidence=Evidence.HANDBOOK),
        Fact(FIT, 1.0, 0.3, "1", evidence=Evidence.ASSUMED),
    )
    return replace(facts, facts={**facts.facts, **{fact.path: fact for fact in more}})


def force(question: str, *shares: tuple[str, float]):
    """A force in care, with a doubt and a note."""
    doubt = tuple(Share(path, share) for path, share in shares)
    asks = Question(question, Risk.TOOL, f"Does {question} suffice?")
    return replace(made.off_the_rule(), question=asks, doubt=doubt, notes=(NOTE,))


ONLY_KC = ((KC, 0.6), (FIT, 0.35), ("tools.em6.DC", 0.05))
MORE = (("tools.em6.OHX", 0.55), (KC, 0.3), (FIT, 0.15))


def forces(kc_u: float = 350.0):
    return made.examination(force("torque", *ONLY_KC), force("power", *MORE), made.clear_room(), known=known(kc_u))


def test_it_names_the_constants_how_well_they_are_known_and_what_rises_with_them():
    told = shared_doubt(forces())
    assert told is not None
    assert told.facts == (KC, FIT)
    assert told.questions == ("torque", "power")
    for words in ("handbook, known to 39 %", "known to 30 %", "torque and power all rise together", "15 minutes"):
        assert words in told.sentence


def test_no_trial_is_advised_that_would_not_better_what_is_known():
    told = shared_doubt(forces(kc_u=45.0))
    assert told is not None
    assert "known to 5 %" in told.sentence
    assert "trial" not in told.sentence


@pytest.mark.parametrize(
    "answers",
    [
        (force("power", *ONLY_KC),),
        (force("power", *ONLY_KC), force("torque", ("tools.em6.DC", 1.0))),
        (force("power", *ONLY_KC), made.room_care()),
        (),
    ],
)
def test_what_one_answer_alone_hangs_on_stays_in_it(answers):
    examination = made.examination(*answers, known=known())
    assert shared_doubt(examination) is None
    for answered in answers:
        assert own_doubt(answered, examination.facts, None) == doubt_words(answered, examination.facts)


def test_an_answer_keeps_only_what_is_its_own():
    examination = forces()
    told = shared_doubt(examination)
    torque, power, other = (own_doubt(answered, examination.facts, told) for answered in examination.answers)
    assert torque == ""
    assert power == "Besides what all forces share: stick-out of em6, measured."
    assert other == doubt_words(examination.answers[2], examination.facts)
    bent = replace(examination.answers[0], nonlinear=True)
    assert own_doubt(bent, examination.facts, told) == "The doubt is not linear in its facts: the draws are shown."


def test_without_a_material_nothing_is_shared():
    bare = made.examination(force("torque", *ONLY_KC), force("power", *ONLY_KC), known=FactSet(known().facts, {}))
    assert shared_doubt(bare) is None


def test_notes_of_several_answers_are_told_once():
    examination = forces()
    assert shared_notes(examination) == (NOTE,)
    assert without_notes(examination.answers[0], (NOTE,)).notes == ()
    assert without_notes(examination.answers[2], (NOTE,)).notes == examination.answers[2].notes
    page = " ".join(printed(examination, 100).split())
    assert page.count(NOTE) == 1
    assert page.count("All forces hang on") == 1
    assert "Doubt: mostly cutting force" not in page
