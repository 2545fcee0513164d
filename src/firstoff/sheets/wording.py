"""What an examination says, in plain shop English: one place for terminal and sheet, so that both say the same."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

from firstoff.facts.control import CONTROL_KEYS
from firstoff.facts.fact import FactSet
from firstoff.facts.quantity import format_quantity
from firstoff.verdict.examination import Examination, NotAsked
from firstoff.verdict.forms import Scale
from firstoff.verdict.judge import thresholds
from firstoff.verdict.question import Answer, Answered, AnsweredPlace, Need, Risk
from firstoff.verdict.words import MM_PER_INCH, ShopUnits, duration, listed, odds, two_figures

ORDER = (Answer.STOP, Answer.CARE, Answer.UNJUDGED, Answer.CLEAR)
"""How answers are listed."""
RISKS = tuple(Risk)
CAUSES = ("today", "tool", "spindle")
"""Questions whose stop is why others stop too: a wrong length makes rapids and depth wrong, never the other way round."""
MOSTLY = 0.5
"""A fact that brings more than this share of the variance is called the main doubt."""
WORTH_NAMING = 0.1
"""A fact that brings less than this share is not named."""
HARDLY = 0.02
"""Doubt below this share of the distance to the stop is not worth a word."""

TOPICS = {
    "understood": "every word understood",
    "travel": "travel",
    "keep_out": "kept-out spaces",
    "rapid_contact": "rapids",
    "body_contact": "holder and nose",
    "below": "depth",
    "tool": "right tools",
    "spindle": "spindle",
    "leftovers": "stops and leftovers",
    "today": "today's card",
    "cuts": "what each tool cuts",
    "reach": "reach of the tools",
    "torque": "torque",
    "power": "power",
    "duty": "duty",
    "chip": "chip thickness",
    "strength": "strength of the tools",
    "chips_out": "chips and coolant",
    "holding": "holding",
    "size": "size",
    "step": "step between tools",
    "path_kept": "path kept",
    "finish": "finish",
    "target": "target part",
    "feed": "feed and time",
}
"""A short name for each question, for lists."""

GOES_OVER = {
    "travel": "it runs out",
    "keep_out": "it enters",
    "rapid_contact": "it touches",
    "body_contact": "it touches",
    "below": "it goes too deep",
    "feed": "it takes longer",
    "holding": "it slips",
}
"""What the chance is a chance of."""


# --- numbers ---------------------------------------------------------------------------------------------------------


_ROUND = re.compile(r"(\.\d+)0\((\d)0\)$")
"""0.80(50) says no more than 0.8(5)."""


_HYPHEN = re.compile(r"(?<![\w.)\-])-(?=\.?\d)")


def amount(value: float, u: float, unit: str) -> str:
    """A value with its doubt and unit, ``14.2(46) µm``; an exact value in four figures at most. Minus is U+2212."""
    text = format_quantity(value, u, "") if u > 0 and math.isfinite(u) else _exact(value)
    text = _ROUND.sub(r"\1(\2)", text)
    return f"{text} {unit}".strip().replace("-", "\u2212")


def _exact(value: float) -> str:
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "not known"
    decimals = max(0, min(3, 3 - math.floor(math.log10(abs(value))) - 1))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def minus(words: str) -> str:
    """Words with a real minus before a number (U+2212), not a hyphen; program text is never given here."""
    return _HYPHEN.sub("\u2212", words)


def clock(seconds: float) -> str:
    """A time as it is read off a clock: ``23 min 40 s``."""
    if seconds < 90:
        return duration(seconds)
    minutes, rest = divmod(round(seconds), 60)
    if minutes < 90:
        return f"{minutes} min {rest:02d} s"
    return f"{minutes // 60} h {minutes % 60:02d} min"


# --- names of facts --------------------------------------------------------------------------------------------------

_NAMES: tuple[tuple[str, str], ...] = (
    (r"machine\.axis\.(.)\.travel\.low", "{0:u} travel, low end"),
    (r"machine\.axis\.(.)\.travel\.high", "{0:u} travel, high end"),
    (r"machine\.axis\.(.)\.travel", "{0:u} travel"),
    (r"machine\.axis\.(.)\.max_feed", "greatest {0:u} feed"),
    (r"machine\.axis\.(.)\.accel", "{0:u} acceleration"),
    (r"machine\.axis\.(.)\.jerk", "{0:u} jerk"),
    (r"machine\.axis\.(.)", "{0:u} axis"),
    (r"machine\.axis", "the axes"),
    (r"machine\.spindle\.speed\.low", "lowest spindle speed"),
    (r"machine\.spindle\.speed\.high", "highest spindle speed"),
    (r"machine\.spindle\.directions", "ways the spindle can turn"),
    (r"machine\.spindle\.run_up", "spindle run-up"),
    (r"machine\.spindle\.nose.*", "spindle nose"),
    (r"machine\.spindle\.stiffness", "stiffness of the spindle"),
    (r"machine\.spindle\.speed", "spindle speed"),
    (r"machine\.spindle\.power_s1.*", "power that the spindle holds for ever"),
    (r"machine\.spindle\.power_s6\.on_share", "share of the time at more power"),
    (r"machine\.spindle\.power_s6\.cycle", "cycle of more power"),
    (r"machine\.spindle\.power_s6.*", "power of the spindle in turns"),
    (r"machine\.spindle\.no_load.*", "power to turn without cutting"),
    (r"machine\.spindle\.inertia", "inertia of all that turns"),
    (r"machine\.spindle\.run_out", "run-out of the spindle taper"),
    (r"machine\.frame\.stiffness\.(.)", "stiffness of the frame in {0:u}"),
    (r"machine\.frame\.stiffness", "stiffness of the frame"),
    (r"machine\.frame\.first_mode", "lowest frequency of the frame"),
    (r"machine\.changer\.change_time", "time of a tool change"),
    (r"machine\.zone\.([^.]+).*", "the space kept out: {0}"),
    (r"machine\.zone", "the spaces kept out"),
    (r"machine\.control\.look_ahead", "look-ahead of the control"),
    (r"machine\.control\.block_rate", "block rate of the control"),
    (r"machine\.control\.own_m_codes\.(\d+)", "what M{0} does"),
    (r"machine\.control\.([^.]+).*", "control: {0:c}"),
    (r"machine\.practice\.([^.]+)", "rule of the trade: {0:s}"),
    (r"machine\.control", "the control's settings"),
    (r"machine\.home\.(G\d+)\.(.)", "{0} position, {1:u}"),
    (r"machine\.home\.(G\d+)", "{0} position"),
    (r"machine\.name", "name of the machine"),
    (r"machine\.judgement\.([^.]+)\.([^.]+)", "{0:s}: {1:s}"),
    (r"machine\.today\.on", "date of today's card"),
    (r"machine\.today\.homed", "today's card: homed"),
    (r"machine\.today\.warm", "today's card: warm-up"),
    (r"machine\.today\.air", "today's card: air"),
    (r"machine\.today\.pockets_seen", "today's card: pockets seen"),
    (r"machine\.today.*", "today's card"),
    (r"tools\.pocket\.(\d+).*", "what stands in pocket {0}"),
    (r"tools\.register\.([HD]\d+)", "what register {0} holds"),
    (r"tools\.register\.(\d+).*", "line {0} of the tool table"),
    (r"tools\.([^.]+)\.LF", "length of {0}"),
    (r"tools\.([^.]+)\.DC", "diameter of {0}"),
    (r"tools\.([^.]+)\.OHX", "stick-out of {0}"),
    (r"tools\.([^.]+)\.FHA", "helix angle of {0}"),
    (r"tools\.([^.]+)\.DMM", "shank of {0}"),
    (r"tools\.([^.]+)\.holder_stiffness", "stiffness of the holder of {0}"),
    (r"tools\.([^.]+)\.holder.*", "holder of {0}"),
    (r"tools\.([^.]+)\.([^.]+).*", "{1:s} of {0}"),
    (r"job\.offset\.(G[\d.]+)\.at\.(.)", "{0} zero in {1:u}"),
    (r"job\.offset\.(G[\d.]+).*", "{0} zero"),
    (r"job\.offset", "the work zero"),
    (r"job\.tools", "the tools that are meant"),
    (r"job\.tools\.0", "the tool in the spindle (this program calls none)"),
    (r"job\.tools\.(\d+)", "the tool that T{0} is meant to be"),
    (r"job\.stock\.box\.z\.high", "top of the stock"),
    (r"job\.stock.*", "the stock"),
    (r"job\.around\.highest_around", "what stands highest"),
    (r"job\.around\.allowed_below", "how deep a tool may go"),
    (r"job\.fixture\.(\d+).*", "fixture {0:n}"),
    (r"job\.holding\.kind", "how the part is held"),
    (r"job\.holding\.after_cut_free", "what holds at the last cut"),
    (r"job\.holding\.([^.]+)", "holding: {0:s}"),
    (r"job\.holding", "the holding"),
    (r"job\.feature\.(\d+)\.tol", "tolerance of feature {0:n}"),
    (r"job\.feature\.(\d+).*", "feature {0:n}"),
    (r"job\.ask\.finish_floor_rz", "roughness asked of floors"),
    (r"job\.ask\.finish_rz", "roughness asked"),
    (r"job\.ask\.target_band", "band of the target"),
    (r"job\.target", "the target part"),
    (r"following\.grid", "the cells of the stock"),
    (r"following\.width", "how wide a cut is on the cells of the stock"),
    (r"following\.blank\.box\.z\.high", "top of the stock"),
    (r"following\.blank\..*", "the stock"),
    (r"materials\.([^.]+)\.kc.*", "cutting force of {0}"),
    (r"materials\.([^.]+)\.([^.]+).*", "{1:s} of {0}"),
)


class _Part(str):
    """Part of a fact path as it is put into a name: `u` upper case, `s` underscores as spaces, `n` counted from one, `c` a
    key of the control by its meaning."""

    __slots__ = ()

    def __format__(self, spec: str) -> str:
        if spec == "u":
            return self.upper()
        if spec == "s":
            return self.replace("_", " ")
        if spec == "c":
            return CONTROL_KEYS[self].meaning if self in CONTROL_KEYS else self.replace("_", " ")
        return str(int(self) + 1) if spec == "n" else str(self)


def fact_name(path: str) -> str:
    """A fact in words: ``tools.em6.LF`` is the length of em6. What is no path is left as it is."""
    first, joint, rest = path.partition(" and ")
    if joint:
        return fact_name(first) + joint + rest
    for pattern, name in _NAMES:
        match = re.fullmatch(pattern, path)
        if match:
            return name.format(*(_Part(part) for part in match.groups()))
    return path


_PATH = re.compile(r"(?:machine|tools|job|materials)(?:\.[\w-]+)+(?: and \d+ more)?")


def is_fact(name: str) -> bool:
    """Whether a name is a fact's path; needs also name lines and states, which nobody can measure."""
    return _PATH.fullmatch(name) is not None


def without_paths(words: str) -> str:
    """A sentence with every fact path in it told by its name."""
    return re.sub(
        r"(?<![\w./])(?:machine|tools|job|materials)(?:\.[\w-]+){1,}",
        lambda found: named if (named := fact_name(found[0])) != found[0] else found[0],
        words,
    )


def fact_words(path: str, facts: FactSet) -> str:
    """A fact in words with its evidence: ``length of em6, assumed``."""
    fact = facts.facts.get(path)
    return fact_name(path) + (f", {fact.evidence.value}" if fact is not None else "")


# --- one answer ------------------------------------------------------------------------------------------------------


def odds_of(answered: Answered) -> str:
    """The chance in words with what it is a chance of; empty where there is none."""
    if answered.any_chance is None or answered.scale is Scale.COUNT:
        return ""
    return f"{odds(answered.any_chance)}: {_goes_over(answered)}"


def _goes_over(answered: Answered) -> str:
    if answered.question.id != "spindle":
        return GOES_OVER.get(answered.question.id, "it goes over")
    if answered.demand is not None and answered.demand.unit == "s":
        return "not at speed"
    return "too slow" if is_lower_limit(answered) else "too fast"


def is_lower_limit(answered: Answered) -> bool:
    """Whether what the answer speaks of is a bare fact (a lowest speed, a run-up) that what the program says, exactly, must reach."""
    said = [limit for limit in answered.margins if answered.why.startswith(limit.what)] or list(answered.margins[:1])
    return any(bool(limit.demand.terms) and not limit.capacity.terms for limit in said)


def answer_line(answered: Answered, facts: FactSet) -> str:
    """The answer word, and why so in as few words as possible: ``care, 1 in 10 that it touches``."""
    word = answered.answer.value
    if answered.scale is Scale.COUNT:
        found = round(answered.demand.value) if answered.demand else 0
        return f"{word}, {found} found" if found and answered.answer is not Answer.CLEAR else word
    if answered.answer is Answer.UNJUDGED:
        return f"{word}, a fact is missing" if answered.needs else word
    limits = thresholds(answered.question, facts)
    judged_by_room = answered.by_clearance and (answered.any_chance or 0.0) <= limits.care_above
    if judged_by_room and answered.answer in (Answer.CARE, Answer.STOP):
        return f"{word}, {'little' if answered.answer is Answer.CARE else 'hardly any'} room left"
    if answered.answer is Answer.CLEAR:
        return f"{word}, {odds(answered.any_chance)}" if answered.any_chance is not None else word
    said = odds_of(answered)
    return f"{word}, {said}" if said else word


def doubt_words(answered: Answered, facts: FactSet) -> str:
    """Whose the doubt is: ``Doubt: mostly the length of em6, assumed.``; empty where there is none to speak of."""
    shares = sorted(answered.doubt, key=lambda share: -share.share)
    if not shares or answered.scale is Scale.COUNT:
        return ""
    if _hardly_any(answered):
        return "Hardly any doubt."
    more = " The doubt is not linear in its facts: the draws are shown." if answered.nonlinear else ""
    if len(shares) == 1:
        return f"Doubt: all from {fact_words(shares[0].fact, facts)}.{more}"
    if shares[0].share > MOSTLY:
        return f"Doubt: mostly {fact_words(shares[0].fact, facts)}.{more}"
    named = [fact_words(share.fact, facts) for share in shares if share.share >= WORTH_NAMING] or [
        fact_words(shares[0].fact, facts)
    ]
    return f"Doubt: {'; '.join(named[:2])}{' and others' if len(shares) > 2 else ''}.{more}"


def _hardly_any(answered: Answered) -> bool:
    if answered.demand is None or answered.capacity is None:
        return False
    away = abs(answered.capacity.value - answered.demand.value)
    return math.hypot(answered.demand.u, answered.capacity.u) < HARDLY * away


def missing_names(needs: Iterable[Need]) -> list[str]:
    """What is missing, each thing once: both ends of a travel are one thing, and so is the whole of today's card."""
    names = [fact_name(need.fact) for need in needs]
    card = [name for name in names if "today's card" in name]
    short = (
        "today's card" if len(card) > 1 and name in card else name.removesuffix(", low end").removesuffix(", high end")
        for name in names
    )
    return list(dict.fromkeys(short))


def grouped_needs(answered: Answered) -> list[tuple[str, str, str]]:
    """(names, where, how) of what is missing, facts that one look settles together."""
    groups: dict[str, list[Need]] = {}
    for need in answered.needs:
        groups.setdefault(need.how, []).append(need)
    return [(listed(missing_names(needs), 6), _where(needs), how) for how, needs in groups.items()]


def _where(needs: list[Need]) -> str:
    """Where the facts are written; the key too, where the place does not say it."""
    places = []
    for need in needs:
        key = need.fact.split(".")[-1]
        bare = need.where.endswith("[control]") and is_fact(need.fact)
        places.append(f"{need.where} {key}" if bare else need.where)
    return listed(list(dict.fromkeys(places)), 3)


def lead(answered: Answered) -> tuple[str, AnsweredPlace | None]:
    """(what is found, at which place): the chance that `why` ends with is said beside the scale, not twice."""
    for place in answered.places:
        if place.what and answered.why.startswith(place.what):
            return minus(without_paths(place.what)), place
    if answered.needs and answered.why.startswith(_CANNOT):
        return f"I can't say. {_missing(answered)}", None
    return minus(without_paths(_CHANCE.sub("", answered.why))), None


def first_words(first: AnsweredPlace) -> str:
    """Said beside the worst place, where it begins at another line."""
    return f"First at line {first.place.line}."


_CANNOT = "I can't say: "
_CHANCE = re.compile(r"\s*Chance that it goes over: [^.]+\.")


def _missing(answered: Answered) -> str:
    """What is missing, in a sentence; where the position was lost there is a line instead of a fact."""
    first = answered.needs[0]
    if first.fact.startswith("line "):
        return f"From {first.fact} on the position is not certain."
    return f"Missing: {listed(missing_names(answered.needs), 3)}."


def in_order(answers: tuple[Answered, ...]) -> list[Answered]:
    """Stop, care, unjudged, clear; among stops causes before what follows from them, a programmed stop after all other care, else as they
    were put."""

    def rank(answered: Answered) -> tuple[int, bool, bool]:
        cause = answered.answer is Answer.STOP and answered.question.id in CAUSES
        return (
            ORDER.index(answered.answer),
            not cause,
            answered.answer is Answer.CARE and answered.question.id == "leftovers",
        )

    return sorted(answers, key=rank)


# --- the whole examination -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Headline:
    """The most important answer: one sentence that could be read aloud, the act that goes with it, and where."""

    sentence: str
    act: str
    line: int = 0
    waits: str = ""
    """How many answers wait for what is missing: the end of the sentence."""


def headline(examination: Examination) -> Headline:
    """The sentence of the verdict. Where only whole risks are unjudged it says which, and why."""
    verdict = examination.verdict
    for answered in in_order(examination.answers):
        if answered.answer is verdict and verdict is not Answer.CLEAR:
            if answered.needs and verdict is Answer.UNJUDGED:
                return _cannot_say(answered, examination)
            what, place = lead(answered)
            said = f"{what}{_may_be(answered, examination.case.units)}"
            return Headline(said, minus(without_paths(answered.do)), place.place.line if place else 0)
    if verdict is Answer.UNJUDGED:
        return _nobody_looked(examination)
    return Headline(
        f"All {len(examination.answers)} answers are clear.",
        "Run the first part step by step, as the set-up sheet says.",
    )


def _may_be(answered: Answered, units: ShopUnits) -> str:
    """Why it is care or stop though the best estimate keeps to its limit: how far the doubt reaches. Nothing where the estimate itself goes over."""
    demand, capacity = answered.demand, answered.capacity
    if answered.answer not in (Answer.CARE, Answer.STOP) or demand is None or capacity is None or answered.by_clearance:
        return ""
    if not 0.0 <= demand.value < capacity.value or is_lower_limit(answered) or not odds_of(answered):
        return ""
    unit, factor = demand.unit, 1.0
    if units.inch and unit in ("mm", "µm"):
        unit, factor = ("in", 1 / MM_PER_INCH) if unit == "mm" else ("thou", 1 / MM_PER_INCH)
    chance, _, what = odds_of(answered).partition(": ")
    that = f"{chance} that {what}" if what.startswith("it ") else f"{chance}: {what}"
    return f" It may be up to {two_figures(demand.high95 * factor)} {unit}: {that}."


def _cannot_say(answered: Answered, examination: Examination) -> Headline:
    """What is missing first, and how many answers wait for it: each question stands in the list."""
    names = missing_names(answered.needs)
    lines = [name for name in names if name.startswith("line ")]
    facts = [name for name in names if name not in lines]
    told = [f"Missing: {listed(facts, 3)}."] if facts else []
    told += [f"Not understood: {listed(lines, 3)}."] if lines else []
    wanted = {need.fact for need in answered.needs}
    waiting = sum(
        one.answer is Answer.UNJUDGED and any(need.fact in wanted for need in one.needs) for one in examination.answers
    )
    waits = (
        f"{'1 answer waits' if waiting == 1 else f'{waiting} answers wait'} for {'them' if len(names) > 1 else 'it'}."
    )
    line = int(lines[0].removeprefix("line ")) if lines else 0
    return Headline(" ".join([*told, waits]), _capital(without_paths(answered.needs[0].how)), line, waits)


def _nobody_looked(examination: Examination) -> Headline:
    asked = {answered.question.risk for answered in examination.answers}
    open_risks = [risk.value for risk in RISKS if risk not in asked]
    known: dict[Answer, list[str]] = {}
    for risk in RISKS:
        if risk in asked:
            known.setdefault(examination.risks[risk], []).append(risk.value)
    told = " ".join(f"{_capital(listed(names))}: {answer.value}." for answer, names in known.items())
    stand = "stand" if len(open_risks) > 1 else "stands"
    sentence = f"{told} Whether {listed(open_risks)} {stand} it, this version cannot say.".strip()
    care = [answered for answered in in_order(examination.answers) if answered.answer is Answer.CARE]
    if care:
        what, place = lead(care[0])
        return Headline(f"{sentence} {what}", minus(care[0].do), place.place.line if place else 0)
    those = {1: "that", 2: "those two"}.get(len(open_risks), "those")
    return Headline(sentence, f"Judge {those} by eye, and run the first part as the set-up sheet says.")


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def tally(examination: Examination) -> str:
    """``1 stop, 2 care, 7 clear``."""
    numbers = {answer: sum(one.answer is answer for one in examination.answers) for answer in ORDER}
    return ", ".join(f"{number} {answer.value}" for answer, number in numbers.items() if number)


NOT_IN_VERSION = "not in this version"
RISK_OF = {
    Risk.TOOL: ("cuts", "reach", "torque", "power", "duty", "chip", "strength", "chips_out"),
    Risk.PART: ("holding", "size", "step", "path_kept", "finish", "target"),
    Risk.TIME: ("feed",),
}
"""Whose risk a question is that was not put (CONTRACTS); all others are the machine's."""


def not_looked_at(not_asked: tuple[NotAsked, ...]) -> list[str]:
    """Questions that this version cannot put, one entry a risk: ``tool: torque, power``."""
    groups: dict[Risk, list[str]] = {}
    for each in not_asked:
        if NOT_IN_VERSION in each.why:
            risk = next((risk for risk, names in RISK_OF.items() if each.id in names), Risk.MACHINE)
            groups.setdefault(risk, []).append(TOPICS.get(each.id, each.id))
    return [f"{risk.value}: {', '.join(groups[risk])}" for risk in RISKS if risk in groups]


def not_asked_groups(not_asked: tuple[NotAsked, ...]) -> list[str]:
    """Questions that nobody asked, those with one reason together."""
    groups: dict[str, list[str]] = {}
    for each in not_asked:
        if NOT_IN_VERSION not in each.why:
            groups.setdefault(each.why.rstrip("."), []).append(TOPICS.get(each.id, each.id))
    return [f"{', '.join(topics)} ({why})" for why, topics in groups.items()]


def time_words(examination: Examination) -> str:
    """How long it takes and where the time goes; a bracket where the control is not known well enough; else what is missing."""
    time = examination.time
    if time is not None:
        parts = (
            ("cutting", time.cutting),
            ("rapids", time.rapid),
            ("tool changes", time.changes),
            ("dwell", time.dwell),
        )
        where = ", ".join(f"{name} {clock(seconds)}" for name, seconds in parts if seconds >= 0.5)
        return f"Takes {clock(time.total)}" + (f": {where}." if where else ".")
    line = examination.case.timeline
    if line is not None and math.isfinite(line.total_low_s) and math.isfinite(line.total_high_s):
        open_facts = listed([fact_name(path) for path in line.bracketed_by])
        because = f"; not known: {open_facts}" if open_facts else ""
        return f"Takes between {clock(line.total_low_s)} and {clock(line.total_high_s)}{because}."
    missing = listed([fact_name(path) for path in examination.case.timeline_missing])
    return f"How long it takes I can't say{': missing ' + missing if missing else ''}."


def removed_words(share: float) -> str:
    """How much of a doubt a trial takes away, in words."""
    if share >= 0.995:
        return "all of the doubt"
    if share >= 0.85:
        return "nearly all of the doubt"
    if share >= 0.6:
        return "most of the doubt"
    if share >= 0.4:
        return "half of the doubt"
    return "part of the doubt"
