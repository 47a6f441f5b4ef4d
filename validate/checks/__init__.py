"""Check values that ship with the package: one source per TOML file.

`loading` reads them, `comparing` runs them against the public functions; `calls` is the fixed
list of functions that a file may name. What a file holds stands in README.md.
"""
