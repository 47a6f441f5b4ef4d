"""Published check values that ship with the package: one example per TOML file.

`loading` reads them and runs them against the public functions; `calls` is the fixed list
of functions that a file may name. What a file holds stands in README.md.
"""
