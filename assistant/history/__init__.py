"""What a bench's store holds, over all its jobs: found, compared, carried to another bench, and the gauges watched from job to job."""
