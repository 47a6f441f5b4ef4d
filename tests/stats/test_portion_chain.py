"""The portion chain: sample represented, factor, uncertainty from tolerances, and chains that cannot be."""

import math

import mpmath
import pytest

from validate.stats.portion import Chain, Measured, impossibilities, represented


def chain(**steps) -> Chain:
    """25 g in 250 mL, 20 mL + 20 mL, 4 mL through the column, unless said otherwise."""
    usual = {
        "weigh": Measured(25),
        "extract_in": Measured(250),
        "dilute": ((Measured(20), Measured(20)),),
        "load": Measured(4),
    }
    return Chain(**(usual | steps))


def test_25_g_in_250_ml_20_with_20_ml_4_ml_is_a_fifth_of_a_gram():
    """Common practice, no source."""
    assert represented(chain()).sample == pytest.approx(0.2, rel=1e-15)


def test_factor_is_the_eluate_over_the_sample_and_without_an_eluate_its_inverse():
    assert represented(chain(elute_in=Measured(1))).factor == pytest.approx(5, rel=1e-15)
    assert represented(chain()).factor == pytest.approx(5, rel=1e-15)


def test_factor_of_an_extract_that_is_read_itself_is_its_volume_over_the_sample():
    assert represented(chain(dilute=(), load=None)).factor == 10


def test_a_liquid_sample_that_is_not_extracted_stands_for_itself():
    made = represented(chain(weigh=Measured(50), liquid=True, extract_in=None, load=Measured(10)))
    assert made.sample == 5


def test_a_test_portion_alone_says_nothing_of_what_is_read():
    assert represented(Chain(weigh=Measured(25))) is None


@pytest.mark.parametrize(("distribution", "divisor"), [("rectangular", 3), ("triangular", 6)])
def test_a_single_tolerance_is_divided_by_the_root_that_belongs_to_its_distribution(distribution, divisor):
    """GUM (JCGM 100:2008) 4.3.7 and 4.3.9, from memory: a²/3 and a²/6."""
    made = represented(chain(load=Measured(4, 0.04), distribution=distribution))
    assert made.u_relative == pytest.approx(0.01 / math.sqrt(divisor), rel=1e-14)


def test_uncertainty_is_that_of_differences_of_the_factor_itself():
    """The sensitivities against numerical derivatives of E·V·(a + b)/(W·a·L) in 40 digits."""
    values, tolerances = (25, 250, 15, 30, 9, 2), (0.02, 1.5, 0.03, 0.1, 0.05, 0.02)
    w, v, a, b, load, eluate = (Measured(*pair) for pair in zip(values, tolerances, strict=True))
    made = represented(chain(weigh=w, extract_in=v, dilute=((a, b),), load=load, elute_in=eluate))

    def factor(w, v, a, b, load, eluate):
        return eluate * v * (a + b) / (w * a * load)

    with mpmath.workdps(40):
        parts = []
        for i, tolerance in enumerate(tolerances):
            order = tuple(int(i == j) for j in range(6))
            parts.append((mpmath.diff(factor, values, order) * mpmath.mpf(tolerance)) ** 2 / 3)
        u = mpmath.sqrt(mpmath.fsum(parts)) / factor(*map(mpmath.mpf, values))
    assert made.u_relative == pytest.approx(float(u), rel=1e-12)


def test_a_step_without_a_tolerance_has_no_part_and_none_at_all_gives_no_uncertainty():
    assert represented(chain()).u_relative is None
    assert [part for _, _, part in represented(chain(load=Measured(4, 0.04))).shares].count(None) == 4


@pytest.mark.parametrize(
    ("steps", "where", "kind"),
    [
        ({"load": Measured(41)}, ("load",), "more-than-there-is"),
        ({"filter": Measured(3)}, ("load",), "more-than-there-is"),
        ({"filter": Measured(41)}, ("filter",), "more-than-there-is"),
        ({"dilute": ((Measured(251), Measured(20)),)}, ("dilute", 0, "take"), "more-than-there-is"),
        ({"extract_in": Measured(0)}, ("extract_in",), "zero"),
        ({"weigh": Measured(-1)}, ("weigh",), "zero"),
        ({"load": None, "elute_in": Measured(1)}, ("elute_in",), "nothing-to-elute"),
        ({"load": Measured(4, 4)}, ("load",), "tolerance"),
    ],
)
def test_a_chain_that_cannot_be_is_refused_with_its_step(steps, where, kind):
    wrong = impossibilities(chain(**steps))
    assert (where, kind) in [(each.step, each.kind) for each in wrong]
    with pytest.raises(ValueError, match=wrong[0].reason[:20]):
        represented(chain(**steps))


def test_all_that_there_is_may_be_loaded():
    assert impossibilities(chain(load=Measured(40))) == ()
    assert impossibilities(chain(filter=Measured(4), load=Measured(4))) == ()
