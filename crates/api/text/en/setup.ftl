# Setting up, people, who did what.
