"""The portion chain of the protocol: checked, computed with its working, compared with each sample's own."""
