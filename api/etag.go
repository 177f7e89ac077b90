package api

import (
	"fmt"
	"strconv"
	"strings"
)

// etag is a strong entity tag. The first part is the version that If-Match
// compares; the rest is what else the answer depends on.
func etag(version any, rest ...any) string {
	var b strings.Builder
	fmt.Fprintf(&b, "\"%v", version)
	for _, r := range rest {
		fmt.Fprintf(&b, ".%v", r)
	}
	return b.String() + `"`
}

// fresh returns the answer of unchanged when the caller has this tag already
// (RFC 9110, section 13.1.2: weak comparison, a list, or *).
func fresh(ifNoneMatch, tag string) error {
	for one := range strings.SplitSeq(ifNoneMatch, ",") {
		one = strings.TrimPrefix(strings.TrimSpace(one), "W/")
		if one == tag || one == "*" {
			return unchanged(tag)
		}
	}
	return nil
}

// expected is the version in an If-Match header: "" if any will do. A header
// that is no tag of ours matches nothing.
func expected(ifMatch string) (string, error) {
	ifMatch = strings.TrimSpace(ifMatch)
	if ifMatch == "" || ifMatch == "*" {
		return "", nil
	}
	tag, ok := strings.CutPrefix(ifMatch, `"`)
	tag, closed := strings.CutSuffix(tag, `"`)
	version, _, _ := strings.Cut(tag, ".")
	if !ok || !closed || version == "" {
		return "", stale.because("If-Match names a state that this never had. Read it again and send the ETag of that answer.")
	}
	return version, nil
}

// expectedNumber is expected for versions that are numbers; nil if any will do.
func expectedNumber(ifMatch string) (*int64, error) {
	version, err := expected(ifMatch)
	if err != nil || version == "" {
		return nil, err
	}
	n, err := strconv.ParseInt(version, 10, 64)
	if err != nil {
		n = -1 // a tag of something else: no version is negative
	}
	return &n, nil
}
