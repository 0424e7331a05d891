// Package report writes an observer's record for others to read: the report of a
// month or a rotation as HTML, PDF and Markdown, and the marks as CSV, ECSV and
// VOTable. Values go in, and an io.Writer: it reads no catalogue, no file, no clock.
//
// A report is first put together (New) as a Document, whose sections hold text,
// tables and charts; HTML, PDF and Markdown then say the same thing in their ways.
//
// Blank is not zero: a kind that was not looked for has no number.
package report
