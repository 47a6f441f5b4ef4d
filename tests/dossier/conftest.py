"""The sample dossier, rendered once for all tests of this folder."""

from __future__ import annotations

import pytest

from tests.dossier.sample import inputs, sample
from tests.dossier.sample_study import SECTION
from validate.dossier.html import render_html
from validate.vocabulary.evaluation import Evaluation


@pytest.fixture(scope="session")
def evaluation() -> Evaluation:
    return sample()


@pytest.fixture(scope="session")
def html(evaluation: Evaluation) -> str:
    return render_html(evaluation, inputs(), {"recovery": SECTION}).decode("utf-8")
