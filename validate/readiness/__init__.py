"""Was the laboratory ready when a result was made: rules of the protocol, run log, and what they say of every row."""
