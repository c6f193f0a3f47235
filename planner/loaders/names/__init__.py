"""A site's own names: what of a round is not recognised, the table in which a person confirms it, and its use."""
