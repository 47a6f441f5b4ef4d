"""The decision at the limit: acceptance limit and risks of the declared rule, other rules beside it."""

from __future__ import annotations

from math import inf

from validate.stats.uncertainty import Decision, decision
from validate.studies.contract import StudyInput
from validate.studies.uncertainty.budget import LevelBudget, symbol
from validate.studies.uncertainty.settings import RULES, Rule
from validate.studies.uncertainty.sources import settings_of
from validate.vocabulary.evaluation import ResultTable, TableColumn
from validate.vocabulary.finding import Finding, Working

SOURCE = "JCGM 106:2012, 7 and 8; third rule: Regulation (EC) No 401/2006 Annex I D.2 (clauses from memory)"
FORMULAS: dict[Rule, str] = {"simple": "A = L", "guard band": "A = L − U", "beyond reasonable doubt": "A = L + U"}
WORDS: dict[Rule, str] = {
    "simple": "accept when x ≤ L",
    "guard band": "accept when x + U ≤ L",
    "beyond reasonable doubt": "reject only when x − U > L",
}
EXPRESSIONS: dict[Rule, str] = {"simple": "{L}", "guard band": "{L} − {U}", "beyond reasonable doubt": "{L} + {U}"}
RISK = "P(content above the limit | result), no prior knowledge; Student's t where degrees of freedom are few"
NOTE = (
    "Decided on unrounded results, with U at the limit on both sides of it, on the basis that the method declares (as "
    "received, dry matter). Report U with two significant digits, the result to the same place, with k and the rule."
)
STEPS = (-2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0)
"""Results of the decision table, in steps of U from the limit."""


def limit_budget(job: StudyInput, budgets: tuple[LevelBudget, ...]) -> LevelBudget | str:
    """The budget at the method's limit, or why there is none."""
    limit = job.method.limit
    if limit is None:
        return "the method has no limit"
    found = next((each for each in budgets if each.x == limit), None)
    if found is None:
        return f"the limit {limit:g} {job.method.unit} is not among the levels"
    return found if found.whole is not None else found.reason or "no uncertainty at the limit"


def decide(job: StudyInput, budget: LevelBudget, value: float, rule: Rule) -> Decision:
    """One result against the limit, with U at the limit."""
    return decision(value, budget.whole.U, job.method.limit, rule=rule, k=budget.whole.k, df=budget.df)


def decision_findings(job: StudyInput, found: LevelBudget | str) -> tuple[Finding, ...]:
    """`acceptance_limit`, `worst_risk` and `worst_rejection_risk` of the declared rule."""
    rule, unit = settings_of(job).rule, job.method.unit
    names = (("acceptance_limit", unit, FORMULAS[rule]), ("worst_risk", "%", RISK), ("worst_rejection_risk", "%", RISK))
    if isinstance(found, str):
        return tuple(
            Finding(name=name, level=None, value=None, unit=u, reason=found, formula=formula, source=SOURCE)
            for name, u, formula in names
        )
    turning = decide(job, found, job.method.limit, rule).acceptance_limit
    at = decide(job, found, turning, rule)
    limit = symbol("L", "L", "limit", at.limit, unit)
    U = symbol("U", "U", f"expanded uncertainty at the limit, k = {at.k:.4g}", at.U, unit)
    of_t = "normal" if found.df == inf else f"Student's t, {found.df:.3g} degrees of freedom"
    z = (at.limit - turning) * at.k / at.U if at.U else 0.0
    above = symbol("p", "p", f"chance of a true content above L at x = A, {of_t}, (L − A)/u = {z:.4g}",
                   at.probability_above)  # fmt: skip
    parts = (
        (turning, EXPRESSIONS[rule], (limit,) if rule == "simple" else (limit, U)),
        (100 * at.probability_above, "100 · {p}", (above,)),
        (100 * (1 - at.probability_above), "100 · (1 − {p})", (above,)),
    )
    return tuple(
        Finding(
            name=name,
            level=None,
            value=value,
            unit=u,
            blocked=found.blocked,
            groups=found.groups,
            formula=formula,
            source=SOURCE,
            working=Working(expression=expression, symbols=symbols),
            rows=found.rows,
            notes=(f"rule: {rule}, {WORDS[rule]}",),
        )
        for (name, u, formula), (value, expression, symbols) in zip(names, parts, strict=True)
    )


def rule_table(job: StudyInput, budget: LevelBudget) -> ResultTable:
    """The three rules side by side: where each turns, and its two worst risks."""
    unit = job.method.unit
    rows = []
    for rule in RULES:
        turning = decide(job, budget, job.method.limit, rule).acceptance_limit
        at = decide(job, budget, turning, rule)
        declared = " (declared)" if rule == settings_of(job).rule else ""
        rows.append(
            (rule + declared, WORDS[rule], turning, 100 * at.probability_above, 100 * (1 - at.probability_above))
        )
    columns = (
        TableColumn(title="rule", kind="text"),
        TableColumn(title="in words", kind="text"),
        TableColumn(title="acceptance limit", unit=unit),
        TableColumn(title="worst risk of accepting wrongly", unit="%"),
        TableColumn(title="worst risk of rejecting wrongly", unit="%"),
    )
    return ResultTable(name="rules", title="Decision rules at the limit", columns=columns, rows=tuple(rows), note=NOTE)


def decision_table(job: StudyInput, budget: LevelBudget) -> ResultTable:
    """Results around the limit: what each rule decides, and the chance that the content is above the limit."""
    U, limit = budget.whole.U, job.method.limit
    results = [limit + step * U for step in STEPS if limit + step * U >= 0]
    rows = []
    for value in results:
        decided = [decide(job, budget, value, rule) for rule in RULES]
        rows.append((value, U, *(each.decision for each in decided), 100 * decided[0].probability_above))
    return ResultTable(
        name="decisions",
        title="What each rule decides around the limit",
        columns=(
            TableColumn(title="result", unit=job.method.unit),
            TableColumn(title="U", unit=job.method.unit),
            *(TableColumn(title=rule, kind="text") for rule in RULES),
            TableColumn(title="chance that the content is above the limit", unit="%"),
        ),
        rows=tuple(rows),
    )


def results_table(job: StudyInput, budget: LevelBudget) -> ResultTable | None:
    """The results of the table, each decided by the declared rule."""
    if job.table is None:
        return None
    rule, unit = settings_of(job).rule, job.method.unit
    frame, marks = job.table.frame, job.table.marks
    turning = decide(job, budget, job.method.limit, rule).acceptance_limit
    rows = []
    for row, sample, value in zip(frame.index, frame["sample"], frame["result"], strict=True):
        if value != value:
            mark = str(marks.loc[row, "result"]).strip()
            rows.append((sample, mark or "no result", None, _of_censored(mark, turning), None))
            continue
        found = decide(job, budget, float(value), rule)
        words = found.decision + (", within U of the limit" if found.doubtful else "")
        rows.append((sample, float(value), found.U, words, 100 * found.risk))
    columns = (
        TableColumn(title="sample", kind="text"),
        TableColumn(title="result", unit=unit),
        TableColumn(title="U", unit=unit),
        TableColumn(title=f"decision, {rule}", kind="text"),
        TableColumn(title="chance that it is wrong", unit="%"),
    )
    return ResultTable(
        name="results", title="Results held against the limit", columns=columns, rows=tuple(rows), note=NOTE
    )


def _of_censored(mark: str, turning: float) -> str:
    """`<20` is accepted where even 20 would be; of any other mark nothing can be said."""
    try:
        below = float(mark.removeprefix("<")) if mark.startswith("<") else None
    except ValueError:
        below = None
    return "accept" if below is not None and below <= turning else "no decision"
