"""The formulas: numbers in, small frozen results out.

One module per topic; import the one you need (`from validate.stats import precision`).
Nothing here knows a protocol, a file or a verdict, and nothing is rounded. Limits are
always `low, high, level`, a standard error is `se_…`, a standard uncertainty `u`,
degrees of freedom `df`. A question that cannot be answered raises `ValueError` with the
count found and the count needed, or leaves a field None and says why; NaN is never returned,
except beside the reason of a refused row where many rows are worked out in one call.
"""
