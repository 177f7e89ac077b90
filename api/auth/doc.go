// Package auth has passwords, secrets, roles and the table of who may do what.
//
// It answers "is this the password", "which secret is this" and "may this role
// call this operation". It has no SQL and no HTTP, and it never sees a
// session: api and cmd ask it. It imports the standard library and x/crypto.
// One example:
//
//	if !auth.Allowed("get-estimates", auth.Scout) { … }
package auth
