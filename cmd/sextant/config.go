package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/netip"
	"os"
	"strings"
	"time"

	"sextant/store"
	"sextant/store/localpg"
)

// The settings of all commands that need them stand here, in one table each:
// name, default, environment, meaning. A flag wins over the environment.

// databaseFlags say which database is meant.
type databaseFlags struct {
	DatabaseURL     string `env:"SEXTANT_DATABASE_URL,DATABASE_URL" placeholder:"postgres://…" help:"Address of a PostgreSQL server, a secret. Without it the program runs a private PostgreSQL in the data folder."`
	DatabaseURLFile string `env:"SEXTANT_DATABASE_URL_FILE" type:"path" placeholder:"FILE" help:"File that holds that address instead."`
	Data            string `env:"SEXTANT_DATA" type:"path" default:"sextant-data" help:"Data folder: the private PostgreSQL, its back-ups, the authority of --tls."`
	BackupDir       string `env:"SEXTANT_BACKUP_DIR" type:"path" placeholder:"DIR" help:"Folder for back-ups of the private PostgreSQL, better on another disk; otherwise backups in the data folder."`
	PostgresBin     string `env:"SEXTANT_POSTGRES_BIN" type:"path" placeholder:"DIR" help:"Folder with the binaries postgres and initdb; otherwise they are looked for."`
}

// logFlags say what is logged, on standard error.
type logFlags struct {
	LogFormat string     `env:"SEXTANT_LOG_FORMAT" enum:"text,json" default:"text" help:"Form of the log: ${enum}."`
	LogLevel  slog.Level `env:"SEXTANT_LOG_LEVEL" default:"info" help:"Least level that is logged: debug, info, warn or error."`
}

// listenFlags say where the server listens and how it is reached.
type listenFlags struct {
	Listen         string   `env:"SEXTANT_LISTEN" placeholder:"HOST:PORT" help:"Address and port to listen on: 127.0.0.1:4180 unless said, and with --tls port 4180 of all networks. Port 0 takes a free one."`
	PublicURL      string   `env:"SEXTANT_PUBLIC_URL" placeholder:"https://name:port" help:"Address at which browsers open the app, if it is another one, as behind a proxy."`
	TrustedProxies []string `env:"SEXTANT_TRUSTED_PROXIES" placeholder:"CIDR" help:"Addresses of proxies that may say who the client is (X-Forwarded-For) and that it came over TLS (X-Forwarded-Proto)."`
	MetricsListen  string   `env:"SEXTANT_METRICS_LISTEN" default:"127.0.0.1:4181" help:"Loopback address for Prometheus metrics at /metrics; empty: none."`
}

// logger makes the program's log.
func (f logFlags) logger(w io.Writer) *slog.Logger {
	opt := &slog.HandlerOptions{Level: f.LogLevel}
	if f.LogFormat == "json" {
		return slog.New(slog.NewJSONHandler(w, opt))
	}
	return slog.New(slog.NewTextHandler(w, opt))
}

// address is the database's address, or "" for the private one.
func (f databaseFlags) address() (string, error) {
	if f.DatabaseURLFile == "" {
		return f.DatabaseURL, nil
	}
	if f.DatabaseURL != "" {
		return "", badInput(errors.New("give --database-url or --database-url-file, not both"))
	}
	text, err := os.ReadFile(f.DatabaseURLFile)
	if err != nil {
		return "", badInput(fmt.Errorf("--database-url-file: %w", err))
	}
	return strings.TrimSpace(string(text)), nil
}

// database is an open, migrated database and, if it is private, its server.
type database struct {
	*store.DB
	url     string
	private *localpg.Server // nil: a server of its own
	logger  *slog.Logger
}

// open reaches the database, starting the private one if no other is named,
// and brings it to the newest form. The private one is backed up before that.
func (f databaseFlags) open(ctx context.Context, logger *slog.Logger) (*database, error) {
	d, err := f.reach(ctx, logger)
	if err != nil {
		return nil, err
	}
	if err := f.renew(ctx, d, logger); err != nil {
		d.close()
		return nil, err
	}
	return d, nil
}

// renew brings a database to the newest form.
func (f databaseFlags) renew(ctx context.Context, d *database, logger *slog.Logger) error {
	have, newest, err := store.Version(ctx, d.url)
	if err != nil {
		return err
	}
	if err := f.backUpBefore(ctx, d, have, newest, logger); err != nil {
		return err
	}
	if err := store.Migrate(ctx, d.url); err != nil {
		return fmt.Errorf("bring the database to the newest form: %w", err)
	}
	return nil
}

// backUpBefore backs a private database up before it gets a new form.
func (f databaseFlags) backUpBefore(ctx context.Context, d *database, have, newest int, logger *slog.Logger) error {
	if d.private == nil || have == 0 || have >= newest {
		return nil
	}
	path, err := f.backups().Write(ctx, d.DB, fmt.Sprintf("before-%d", newest), f.backupFiles())
	if err != nil {
		return fmt.Errorf("the database needs a new form and could not be backed up before, so nothing was changed: %w", err)
	}
	logger.InfoContext(ctx, "backed up before the database gets a new form", "file", path, "form", have, "new_form", newest)
	return nil
}

// reach reaches the database, starting the private one if no other is named.
func (f databaseFlags) reach(ctx context.Context, logger *slog.Logger) (_ *database, err error) {
	d := &database{logger: logger}
	if d.url, err = f.address(); err != nil {
		return nil, err
	}
	if d.url == "" {
		d.private, err = localpg.Start(ctx, localpg.Options{DataDir: f.Data, BinDir: f.PostgresBin, Logger: logger})
		if err != nil {
			return nil, fmt.Errorf("start the private PostgreSQL in %s: %w", f.Data, err)
		}
		d.url = d.private.URL()
	}
	defer func() {
		if err != nil {
			d.close()
		}
	}()
	// Opened first: an address that is wrong is told apart from a database that fails.
	if d.DB, err = store.Open(ctx, d.url, store.Options{Logger: logger}); errors.Is(err, store.ErrInvalid) {
		return nil, badInput(err)
	} else if err != nil {
		return nil, err
	}
	return d, nil
}

// gone is closed when a private PostgreSQL has ended; nil, which never is, for
// any other.
func (d *database) gone() <-chan struct{} {
	if d.private == nil {
		return nil
	}
	return d.private.Done()
}

// close ends the connections and the private PostgreSQL. What was committed is
// safe in any case.
func (d *database) close() {
	if d.DB != nil {
		d.DB.Close()
	}
	if d.private == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	if err := d.private.Stop(ctx); err != nil {
		d.logger.Error("the private PostgreSQL did not stop", "error", err)
	}
}

// proxies parses --trusted-proxies.
func (f listenFlags) proxies() ([]netip.Prefix, error) {
	var out []netip.Prefix
	for _, text := range f.TrustedProxies {
		p, err := netip.ParsePrefix(text)
		if err != nil {
			ip, ipErr := netip.ParseAddr(text)
			if ipErr != nil {
				return nil, badInput(fmt.Errorf("--trusted-proxies: %q is neither an address nor a range such as 10.0.0.0/8", text))
			}
			p = netip.PrefixFrom(ip, ip.BitLen())
		}
		out = append(out, p)
	}
	return out, nil
}

// loopback refuses an address that others can reach.
func loopback(address string) error {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return badInput(fmt.Errorf("--metrics-listen: %w", err))
	}
	if ip, err := netip.ParseAddr(host); host != "localhost" && (err != nil || !ip.IsLoopback()) {
		return badInput(fmt.Errorf("--metrics-listen: %q is no loopback address; metrics are for this machine only", address))
	}
	return nil
}
