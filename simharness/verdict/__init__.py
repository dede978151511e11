"""What the figures of a run mean: error bars, agreement with the estimate, target met or not."""
