"""Pages of the dashboards."""
