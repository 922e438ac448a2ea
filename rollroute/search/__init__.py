"""Step 4: exact routes with battery, charging, closing times and a way back."""
