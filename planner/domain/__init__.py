"""The nouns of the round: what loaders fill, planners decide and checkers recompute. No files, no solver."""
