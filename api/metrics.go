package api

import (
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// metrics are what an operator watches. Labels are routes, never addresses,
// names or ids.
type metrics struct {
	registry *prometheus.Registry
	requests *prometheus.HistogramVec
	inFlight prometheus.Gauge
	analyses prometheus.Histogram
}

func newMetrics(subscribers func() int, more ...prometheus.Collector) *metrics {
	m := &metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "sextant_http_request_seconds", Help: "Time to answer, by route; streams count when they end.",
			Buckets: prometheus.ExponentialBuckets(0.001, 4, 9),
		}, []string{"method", "route", "status"}),
		inFlight: prometheus.NewGauge(prometheus.GaugeOpts{Name: "sextant_http_requests_in_flight", Help: "Requests being answered, streams included."}),
		analyses: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "sextant_analysis_seconds", Help: "Time to load an event and compute its estimates and forecasts.",
			Buckets: prometheus.ExponentialBuckets(0.01, 2, 12),
		}),
	}
	m.registry.MustRegister(m.requests, m.inFlight, m.analyses,
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "sextant_live_subscribers", Help: "Browsers that listen for changes."},
			func() float64 { return float64(subscribers()) }),
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	m.registry.MustRegister(more...)
	return m
}

func (m *metrics) observe(method, route string, status int, took time.Duration) {
	m.requests.WithLabelValues(method, route, strconv.Itoa(status)).Observe(took.Seconds())
}

func (m *metrics) analysed(took time.Duration) { m.analyses.Observe(took.Seconds()) }

func (m *metrics) handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{})
}
