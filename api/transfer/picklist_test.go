package transfer

import "testing"

// The npm package fractional-indexing, version 3.2.0, gives with
// generateNKeysBetween(null, null, 64): a0 … az b00 b01.
func TestOrderKey(t *testing.T) {
	t.Parallel()
	for i, want := range map[int]string{0: "a0", 1: "a1", 10: "aA", 35: "aZ", 36: "aa", 61: "az", 62: "b00", 63: "b01", 62 + 62: "b10"} {
		if got := orderKey(i); got != want {
			t.Errorf("orderKey(%d) = %q, want %q", i, got, want)
		}
	}
	for i := 1; i < 2000; i++ {
		if orderKey(i-1) >= orderKey(i) {
			t.Fatalf("key %d is not after key %d", i, i-1)
		}
	}
}
