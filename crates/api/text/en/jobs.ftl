# Jobs, usage, costs.
