package postgres

// MigrateTo lets tests stand at an older step.
var MigrateTo = migrateTo
