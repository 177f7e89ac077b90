package hall

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"time"
)

// CertificatePath is where the page hands out the authority's certificate.
const CertificatePath = "/sextant-hall.crt"

//go:embed page.html.tmpl
var pageSource string

var pageTemplate = template.Must(template.New("page").Parse(pageSource))

// pageData is what the page says.
type pageData struct {
	Name, App, Subject, Ends, Path string
	Fingerprint                    [2]string // in two lines
}

// Page answers over plain HTTP: a page that explains how a tablet learns to
// trust this laptop, and the certificate. It takes nothing from anybody and
// knows no secret. app is the address of the app, https://name:port.
//
// A page that came over plain HTTP proves nothing, so the fingerprint is to be
// compared with what the lead's own screen shows.
func Page(a *Authority, app string) (http.Handler, error) {
	shown := a.Fingerprint()
	data := pageData{
		Name: a.Name(), App: app, Subject: a.Subject(), Path: CertificatePath,
		Ends:        a.Ends().UTC().Format("2 January 2006"),
		Fingerprint: [2]string{shown[:len(shown)/2], shown[len(shown)/2+1:]},
	}
	var text bytes.Buffer
	if err := pageTemplate.Execute(&text, data); err != nil {
		return nil, fmt.Errorf("write the page of the hall: %w", err)
	}
	page, cert := text.Bytes(), a.DER()
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) { answer(w, r, "text/html; charset=utf-8", page) })
	mux.HandleFunc("GET "+CertificatePath, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Disposition", `attachment; filename="sextant-hall.crt"`)
		answer(w, r, "application/x-x509-ca-cert", cert) // RFC 2585 has another type, which tablets do not offer to install
	})
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, "/", http.StatusFound) // whoever typed more than the address
	})
	return mux, nil
}

func answer(w http.ResponseWriter, r *http.Request, media string, body []byte) {
	h := w.Header()
	h.Set("Content-Type", media)
	h.Set("Content-Length", strconv.Itoa(len(body)))
	h.Set("Cache-Control", "no-store")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'")
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(body))
}
