"""What the operator needs around the night: a new school, its schedule, its state, its retention."""
