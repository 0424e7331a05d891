// Package desk is the marking page: a local web page on which a day's pictures
// are worked up. It serves one person on the loopback interface.
//
// # Who does what
//
// Go does all arithmetic about the Sun and the picture; the script does the
// gestures, the drawing and one geometry, screen to picture pixel. Every change
// goes through the same functions of catalog/observe that the commands call.
//
//   - door.go: who is let in (loopback, host, origin, token)
//   - run.go: listening, printing the address, ending
//   - server.go: the routes, in one table; docs of the JSON under /api/v1/
//   - a file for each thing the page asks for: frames, pixels, figures, marks, joins,
//     edgecheck, composite, charts …
//   - static/: ES modules and style sheets, one idea a file; templates/: the page
//
// # For scripts
//
// Everything the page does is JSON under /api/v1/. Open the printed address once
// with a cookie jar, then call away:
//
//	curl -c jar -b jar -L 'http://127.0.0.1:8077/?token=…' >/dev/null
//	curl -b jar http://127.0.0.1:8077/api/v1/
//
// GET /api/v1/ lists every route with one line about it. Errors are JSON with
// what happened ("error") and what to do ("hint").
package desk
