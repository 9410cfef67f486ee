"""From measured sets to the next decision: trends, plans, the lifter's note, advice."""
