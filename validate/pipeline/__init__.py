"""The only room that knows every other: prepare → evaluate → judge → conclude → render.

`preparing` reads and checks, `ordering` lets a study that needs another's findings wait
for them, `evaluating` computes and judges, `rendering` makes the files. Data flows one way.
"""

from validate.pipeline.evaluating import evaluate
from validate.pipeline.preparing import Prepared, prepare
from validate.pipeline.rendering import Rendered, render

__all__ = ["Prepared", "Rendered", "evaluate", "prepare", "render"]
