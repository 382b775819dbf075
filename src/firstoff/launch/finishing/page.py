"""The windows of the plating line as a page for the wall."""

from __future__ import annotations

from firstoff import __version__
from firstoff.launch.finishing.narrowing import span_text
from firstoff.launch.finishing.plan import on_line
from firstoff.launch.plan import LaunchPlan
from firstoff.line.cautions import cautions
from firstoff.report.pages import SetupSheet


def window_pages(plan: LaunchPlan) -> list[tuple[str, SetupSheet]]:
    """File stem and page, or nothing where the bar puts no window to a line. InputFault as `plan_finish` does."""
    found = on_line(plan)
    if found is None or not found.held:
        return []
    job = plan.job
    lines = tuple(
        (h.operation, f"{span_text(h.both)}{'' if h.narrower else ', as the recipe has it'}"
                      f"{'; ' + h.why if h.why else ''}")
        for h in found.held
    )  # fmt: skip
    page = SetupSheet(
        "line", f"{found.line.name}: windows of this bar", job.name, job.revision, job.plant, __version__,
        tuple(cautions(found.line)), lines=lines, hashes=tuple(job.sha256.items()),
    )  # fmt: skip
    return [("line-windows", page)]
