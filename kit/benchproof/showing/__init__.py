"""Floor 4, what a person sees: may import every floor below; changes no number."""
