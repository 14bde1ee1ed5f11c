"""The planner's model in numpy, scipy and scikit-learn, to measure the planner against."""
