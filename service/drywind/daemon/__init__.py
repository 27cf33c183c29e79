"""What keeps the watch going: the scheduler, its workers, and signs of life."""
