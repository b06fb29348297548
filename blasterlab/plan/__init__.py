"""Planning: what to order, what matters, what a change would do."""
