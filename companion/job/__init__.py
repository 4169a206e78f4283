"""The job: what is called out at the bench and what follows from it. Pure: time is passed in."""
