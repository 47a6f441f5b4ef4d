"""What a dossier was made from (manifest.json) and what was made (outputs.json).

The manifest travels with the dossier and is the same everywhere for the same inputs.
The outputs file stays beside it: it names the software, libraries and fonts of the
machine that rendered, on which the bytes of HTML and PDF depend.
"""

from __future__ import annotations

from collections.abc import Mapping

from validate.provenance.canonical import canonical_json, sha256
from validate.provenance.environment import environment
from validate.vocabulary.evaluation import Evaluation

FORMAT = 1


def manifest_bytes(evaluation: Evaluation, evaluation_json: bytes) -> bytes:
    """manifest.json: hashes of every input, the catalogue sets used, the hash of evaluation.json."""
    return canonical_json(
        {
            "format": FORMAT,
            "protocol": {key: evaluation.protocol[key] for key in ("id", "edition", "title")},
            "inputs": [
                {"name": item.name, "role": item.role, "bytes": item.size_bytes, "sha256": item.sha256}
                for item in evaluation.inputs
            ],
            "catalogue": [{"id": item.id, "edition": item.edition} for item in evaluation.catalogue],
            "seeds": {},
            "evaluation": {"name": "evaluation.json", "sha256": sha256(evaluation_json)},
        }
    )


def outputs_bytes(files: Mapping[str, bytes]) -> bytes:
    """outputs.json: hashes of the written files and the environment that wrote them."""
    return canonical_json(
        {
            "format": FORMAT,
            "files": [
                {"name": name, "bytes": len(content), "sha256": sha256(content)}
                for name, content in sorted(files.items())
            ],
            "environment": environment(),
        }
    )
