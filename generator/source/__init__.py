"""Files of a job, read as text with positions, become models or Problems. Only this package opens them."""
