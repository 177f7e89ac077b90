package api

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"sextant/api/auth"
	"sextant/api/photo"
)

// Limits of request bodies in bytes, and how long a client may take to send one.
const (
	smallBody   = 64 << 10 // forms
	gameBody    = 1 << 20  // game files
	tableBody   = 10 << 20 // CSV
	blobBody    = photo.MaxBytes
	syncBody    = 4 << 20  // up to 500 revisions with timelines
	archiveBody = 64 << 20 // a whole event as NDJSON
	bodyTimeout = 60 * time.Second
)

// operation is what a route says beside its types. Who may call it stands in
// the table of api/auth under the same id.
type operation struct {
	id, method, path, summary string
	maxBody                   int64
	status                    int // of success; 0: 200, or 204 without a body
	adjust                    func(*huma.Operation, huma.Registry)
}

// Methods, short enough for one line a route.
const (
	get    = http.MethodGet
	post   = http.MethodPost
	put    = http.MethodPut
	patch  = http.MethodPatch
	remove = http.MethodDelete
)

// routes is the whole API.
func (s *Server) routes(a huma.API) {
	const e = "/api/events/{event}"
	add(s, a, operation{"set-up", post, "/api/setup", "Make the first account with the secret of the set-up link", smallBody, 201, nil}, s.setUp)
	add(s, a, operation{"sign-in", post, "/api/session", "Sign in with a password, or join an event with a code", smallBody, 201, nil}, s.signIn)
	add(s, a, operation{"get-session", get, "/api/session", "Who am I", 0, 0, nil}, s.getSession)
	add(s, a, operation{"sign-out", remove, "/api/session", "End the session", 0, 0, nil}, s.signOut)

	add(s, a, operation{"list-events", get, "/api/events", "Events that the caller may enter", 0, 0, nil}, s.listEvents)
	add(s, a, operation{"create-event", post, "/api/events", "Create an event from a game file", gameBody, 201, nil}, s.createEvent)
	add(s, a, operation{"restore-event", post, "/api/restore", "Restore an event from its export (NDJSON)", archiveBody, 201, bodyIsArchive}, s.restoreEvent)
	add(s, a, operation{"get-event", get, e, "One event", 0, 0, nil}, s.getEvent)
	add(s, a, operation{"update-event", patch, e, "Change an event's name, zone, team or settings", gameBody, 0, nil}, s.updateEvent)

	add(s, a, operation{"get-keys", get, e + "/keys", "The keys of what is carried without a network, as codes on a screen or as a file", 0, 0, nil}, s.getKeys)

	add(s, a, operation{"get-game", get, e + "/game", "The game as it is played here: the game file with the event's settings", 0, 0, nil}, s.getGame)
	add(s, a, operation{"put-game", put, e + "/game", "Correct the game file", gameBody, 0, bodyIsGame}, s.putGame)
	add(s, a, operation{"get-prior", get, e + "/prior", "How much is known from an earlier event of the season", 0, 0, nil}, s.getPrior)
	add(s, a, operation{"put-prior", put, e + "/prior", "Take the estimates of an earlier event as prior knowledge", tableBody, 0, bodyIsPrior}, s.putPrior)
	add(s, a, operation{"drop-prior", remove, e + "/prior", "Take that knowledge away", 0, 0, nil}, s.dropPrior)
	add(s, a, operation{"get-teams", get, e + "/teams", "The team list", 0, 0, nil}, s.getTeams)
	add(s, a, operation{"put-teams", put, e + "/teams", "Replace the team list", tableBody, 0, bodyIsTable[teamList]}, s.putTeams)
	add(s, a, operation{"get-matches", get, e + "/matches", "The schedule, with official results for those who may see them", 0, 0, nil}, s.getMatches)
	add(s, a, operation{"put-matches", put, e + "/matches", "Replace the schedule; results in it become records", tableBody, 0, bodyIsTable[matchList]}, s.putMatches)

	add(s, a, operation{"list-codes", get, e + "/codes", "Join codes", 0, 0, nil}, s.listCodes)
	add(s, a, operation{"create-code", post, e + "/codes", "Make a join code", smallBody, 201, nil}, s.createCode)
	add(s, a, operation{"revoke-code", remove, e + "/codes/{code}", "Revoke a join code", 0, 0, nil}, s.revokeCode)
	add(s, a, operation{"list-members", get, e + "/members", "Who takes part", 0, 0, nil}, s.listMembers)
	add(s, a, operation{"rename-member", patch, e + "/members/{member}", "Give a member another nickname", smallBody, 0, nil}, s.renameMember)
	add(s, a, operation{"remove-member", remove, e + "/members/{member}", "Remove a member and end its sessions", 0, 0, nil}, s.removeMember)
	add(s, a, operation{"list-held", get, e + "/held", "What came from devices after they were signed out", 0, 0, nil}, s.listHeld)
	add(s, a, operation{"drop-held", remove, e + "/held", "Throw away what came from one such device", 0, 0, nil}, s.dropHeld)

	add(s, a, operation{"push", post, e + "/sync", "Send revisions; each is answered for itself", syncBody, 0, bodyIsPush}, s.push)
	add(s, a, operation{"pull", get, e + "/sync", "Fetch what changed", 0, 0, nil}, s.pull)
	add(s, a, operation{"watch-changes", get, e + "/changes", "Live: numbers of changes as server-sent events", 0, 0, answerIsEvents}, s.changes)
	add(s, a, operation{"put-blob", put, e + "/blobs/{sha256}", "Send a picture (JPEG or PNG); nothing but the picture is kept", blobBody, 204, bodyIsPicture}, s.putBlob)
	add(s, a, operation{"get-blob", get, e + "/blobs/{sha256}", "A picture", 0, 0, answerIsPicture}, s.getBlob)
	add(s, a, operation{"get-photos", get, e + "/photos", "One photo of each robot that has one", 0, 0, nil}, s.getPhotos)
	add(s, a, operation{"list-records", get, e + "/records", "Records as they count now; a scout's are the own ones", 0, 0, nil}, s.listRecords)
	add(s, a, operation{"list-revisions", get, e + "/records/{record}/revisions", "The history of a record", 0, 0, nil}, s.listRevisions)

	add(s, a, operation{"import-data", post, e + "/import", "Take in a CSV table or a whole event (NDJSON)", archiveBody, 0, bodyIsImport}, s.importData)
	add(s, a, operation{"export-data", get, e + "/export", "Give out CSV tables or the whole event (NDJSON)", 0, 0, answerIsFile}, s.exportData)

	add(s, a, operation{"get-estimates", get, e + "/estimates", "What each robot contributes", 0, 0, nil}, s.getEstimates)
	add(s, a, operation{"list-forecasts", get, e + "/forecasts", "What to expect of the matches to come", 0, 0, nil}, s.listForecasts)
	add(s, a, operation{"get-forecast", get, e + "/forecasts/{match}", "What to expect of one match, or what was expected of a played one", 0, 0, nil}, s.getForecast)
	add(s, a, operation{"get-standings", get, e + "/standings", "The ranking as it is, how it may end, and what our place hangs on", 0, 0, nil}, s.getStandings)
	add(s, a, operation{"get-calibration", get, e + "/calibration", "How forecasts of this event fared so far", 0, 0, nil}, s.getCalibration)
	add(s, a, operation{"get-rota-goals", get, e + "/rota", "How much each goal of a plan counts when nothing else is said", 0, 0, nil}, s.getRotaGoals)
	add(s, a, operation{"plan-rota", post, e + "/rota", "Plan who watches which robot; the caller puts it in force by records of kind seat", smallBody, 200, nil}, s.planRota)
	add(s, a, operation{"what-if", post, e + "/what-if", "Forecast a match with something changed, beside what it is now", smallBody, 200, nil}, s.whatIf)
	add(s, a, operation{"get-brief", get, e + "/brief/{match}", "Prepare for one match: who does what, whom to defend against, what is in reach", 0, 0, nil}, s.getBrief)
	add(s, a, operation{"get-truth", get, e + "/truth", "Which records to doubt and why, what is missing, whom it is safe to pick, and how scouts count", 0, 0, nil}, s.getTruth)
	add(s, a, operation{"get-judgements", get, e + "/judgements", "Who is best at what scouts judged all robots of a match by", 0, 0, nil}, s.getJudgements)
	add(s, a, operation{"advise", post, e + "/selection", "Where the alliance selection stands and what calls are worth, refined while you look", smallBody, 200, answerIsAdvice}, s.advise)
	add(s, a, operation{"get-knowledge", get, e + "/selection/knowledge", "What a device needs to tell what calls are worth without the server", 0, 0, nil}, s.getKnowledge)
	add(s, a, operation{"get-bracket", get, e + "/bracket", "Each alliance's chances in the playoff", 0, 0, nil}, s.getBracket)
}

// add registers one route. It panics on a route that the table of api/auth
// does not know, so such a program does not start.
func add[I, O any](s *Server, a huma.API, op operation, handler func(context.Context, *I) (*O, error)) {
	if !auth.Known(op.id) {
		panic(fmt.Sprintf("route %s has no row in the table of api/auth", op.id))
	}
	h := huma.Operation{
		OperationID:     op.id,
		Method:          op.method,
		Path:            op.path,
		Summary:         op.summary,
		MaxBodyBytes:    op.maxBody,
		BodyReadTimeout: bodyTimeout,
		DefaultStatus:   op.status,
	}
	if op.adjust != nil {
		op.adjust(&h, a.OpenAPI().Components.Schemas)
	}
	if !auth.Allowed(op.id, auth.Nobody) {
		h.Security = []map[string][]string{{"session": {}}}
	}
	huma.Register(a, h, func(ctx context.Context, in *I) (*O, error) {
		out, err := handler(ctx, in)
		if err != nil {
			return nil, s.report(ctx, err)
		}
		return out, nil
	})
}
