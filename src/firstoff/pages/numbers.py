"""About the numbers: what an answer means here, when it is care or stop, and where values come from."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from firstoff import __version__
from firstoff.facts.fact import Evidence, FactSet
from firstoff.facts.shop import load_shop
from firstoff.pages.frames import frame_of
from firstoff.pages.render import page
from firstoff.sheets.evidence_stamps import stamp_svg
from firstoff.sheets.scale_anatomy import anatomy_svg, scale_cases
from firstoff.verdict.judge import thresholds
from firstoff.verdict.question import Question, Risk
from firstoff.verdict.words import odds

router = APIRouter(include_in_schema=False)
TOLD = {
    Evidence.ASSUMED: "Somebody wrote it down and nobody looked. Where no doubt is stated, a length is taken to be known to half a millimetre, a speed to 5 %, everything else to a quarter.",
    Evidence.HANDBOOK: "From a table of somebody else's machines and materials; a quarter of the value where its spread is not stated.",
    Evidence.PLATE: "The maker of the part says so, on its plate or its data sheet; a tenth of the value where nothing is stated, a length to a tenth of a millimetre.",
    Evidence.MEASURED: "A trial on this machine, with its own uncertainty and degrees of freedom.",
    Evidence.LEARNED: "From what happened in runs here.",
    Evidence.SET: "The shop decides it: there is no doubt of it.",
}


@router.get("/numbers")
def show(request: Request) -> HTMLResponse:
    """The page."""
    facts = load_shop(request.app.state.folder).facts
    kinds = [(one.value, stamp_svg(one), told) for one, told in TOLD.items()]
    return HTMLResponse(
        page(
            "numbers",
            frame_of(request, "numbers"),
            kinds=kinds,
            limits=limits(facts),
            version=__version__,
            anatomy=anatomy_svg(),
            cases=scale_cases(),
        )
    )


def limits(facts: FactSet) -> list[tuple[str, str, str]]:
    """Each risk with the chances from which it is care and stop, as this shop has set them."""
    told = []
    for risk in Risk:
        found = thresholds(Question("", risk, ""), facts)
        stop = odds(found.stop_above) if found.stop_above <= 1 else "never"
        told.append((risk.value, odds(found.care_above), stop))
    return told
