"""Step 2: map extract and terrain to a ``Network`` of directed pieces with ranked facts."""
