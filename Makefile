# The same commands for those who have make; the work is in .ci/ so that a fresh machine needs only git, python3 and apt.
.PHONY: demo test test-slow reports bench lock lint

demo:
	sh .ci/demo

test:
	sh .ci/test

test-slow:
	sh .ci/test -m slow

reports:
	sh .ci/setup
	.venv/bin/python tests/reports/render.py

bench:
	sh .ci/setup
	.venv/bin/python tests/benchmarks/run.py

lint:
	.venv/bin/ruff check . && .venv/bin/ruff format --check .

lock:
	uv pip compile --universal --generate-hashes --extra test --python-version 3.11 --no-header --output-file requirements.lock pyproject.toml
