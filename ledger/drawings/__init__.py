"""From drawings to a job: a folder of them taken at once, and the connections that they speak of recorded."""
