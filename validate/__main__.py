"""`python -m validate` is the same as the `validate` command."""

from validate.cli import main

raise SystemExit(main())
