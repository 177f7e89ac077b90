package main

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"sextant/api"
	"sextant/api/hall"
	"sextant/store/localpg"
)

const (
	// A weekend's records are some tens of megabytes; PostgreSQL's log of
	// changes, back-ups and whatever else fills the disk are far more.
	lowSpace    = 2 << 30
	littleSpace = 200 << 20
	lookAtDisk  = time.Minute
	// certificateSoon is how long before its end the lead hears of it.
	certificateSoon = 21 * 24 * time.Hour
)

// care watches what a laptop runs out of, and warns the lead. Safe for
// concurrent use.
type care struct {
	dir       string // whose disk is watched; "": none
	free      func(dir string) (int64, error)
	authority *hall.Authority // nil: none
	now       func() time.Time
	logger    *slog.Logger

	mu         sync.Mutex
	space      int64 // bytes; -1: not known
	backupErr  error // of the last one
	backedUpAt time.Time
}

func newCare(dir string, logger *slog.Logger) *care {
	return &care{dir: dir, free: localpg.FreeSpace, now: time.Now, logger: logger, space: -1}
}

// look asks for the disk's free space.
func (c *care) look() {
	if c.dir == "" {
		return
	}
	space, err := c.free(c.dir)
	if err != nil {
		c.logger.Warn("the free space of the disk is not known", "folder", c.dir, "error", err)
		space = -1
	}
	c.mu.Lock()
	before := c.space
	c.space = space
	c.mu.Unlock()
	if space >= 0 && space < lowSpace && (before < 0 || before >= lowSpace) {
		c.logger.Warn("disk space is low", "folder", c.dir, "free_bytes", space)
	}
}

// run looks now and then until ctx ends.
func (c *care) run(ctx context.Context) {
	tick := time.NewTicker(lookAtDisk)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			c.look()
		}
	}
}

// backedUp notes how a back-up went.
func (c *care) backedUp(path string, err error) {
	c.mu.Lock()
	c.backupErr = err
	if err == nil {
		c.backedUpAt = c.now()
	}
	c.mu.Unlock()
	if err != nil {
		c.logger.Error("there is no new back-up", "error", err)
		return
	}
	c.logger.Debug("backed up", "file", path)
}

// warnings are what the lead should know now.
func (c *care) warnings() []api.Warning {
	c.mu.Lock()
	defer c.mu.Unlock()
	var out []api.Warning
	switch {
	case c.space < 0 || c.space >= lowSpace:
	case c.space < littleSpace:
		out = append(out, api.Warning{Code: "disk_low", Message: fmt.Sprintf(
			"The disk of the server is almost full: %d MB are free. Soon nothing more can be stored here; tablets keep what they have not sent. Delete or move files now.", c.space>>20)})
	default:
		out = append(out, api.Warning{Code: "disk_low", Message: fmt.Sprintf(
			"The disk of the server has %.1f GB left. Records still fit; delete or move files before they do not.", float64(c.space)/(1<<30))})
	}
	if c.backupErr != nil {
		last := "there is none yet"
		if !c.backedUpAt.IsZero() {
			last = "the last one is of " + c.backedUpAt.Format("15:04 MST")
		}
		out = append(out, api.Warning{Code: "backup_failed", Message: "The last back-up failed; " + last +
			". The database itself is not touched by this. See the server's log, free space, or choose another folder with --backup-dir."})
	}
	if c.authority != nil && c.now().Add(certificateSoon).After(c.authority.Ends()) {
		out = append(out, api.Warning{Code: "certificate_ends", Message: fmt.Sprintf(
			"The certificate that tablets installed ends on %s. After that they need a new one: plan ten minutes for it before the next event.", c.authority.Ends().UTC().Format("2 January 2006"))})
	}
	return out
}

// collectors are metrics of the same.
func (c *care) collectors() []prometheus.Collector {
	value := func(get func() float64) func() float64 {
		return func() float64 {
			c.mu.Lock()
			defer c.mu.Unlock()
			return get()
		}
	}
	return []prometheus.Collector{
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "sextant_disk_free_bytes", Help: "Free space of the data folder's disk; -1: not known."},
			value(func() float64 { return float64(c.space) })),
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "sextant_last_backup_timestamp_seconds", Help: "When the last back-up was made by this process; 0: not yet."},
			value(func() float64 {
				if c.backedUpAt.IsZero() {
					return 0
				}
				return float64(c.backedUpAt.Unix())
			})),
	}
}
