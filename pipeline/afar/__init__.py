"""Work and stores beyond one machine: units on a cluster, a store in an object store."""
