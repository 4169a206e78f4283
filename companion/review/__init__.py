"""Review after the job: what is found goes into the log as further records."""
