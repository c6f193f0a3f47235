"""From rows of orders and patients to a `Problem`; what cannot be planned is set aside with its reason."""
