package auth

// Role is what somebody is to an operation.
type Role string

// The roles. Out is a device whose session a lead has ended. Account is an account's own session outside any event, Nobody is
// a caller without a session. Inside an event everybody with a session is a
// lead, a coach or a scout.
const (
	Nobody  Role = "none"
	Account Role = "account"
	Lead    Role = "lead"
	Coach   Role = "coach"
	Scout   Role = "scout"
	Out     Role = "out"
)

// Roles are all roles, for walking the table.
var Roles = []Role{Nobody, Account, Lead, Coach, Scout, Out}

// roleSet is a row of the table.
type roleSet []Role

var (
	everybody = roleSet{Nobody, Account, Lead, Coach, Scout, Out}
	signedIn  = roleSet{Account, Lead, Coach, Scout}
	account   = roleSet{Account}
	members   = roleSet{Lead, Coach, Scout}
	sending   = roleSet{Lead, Coach, Scout, Out}
	staff     = roleSet{Lead, Coach}
	lead      = roleSet{Lead}
)

// table says who may call which operation, by operation id. What is not in it
// nobody may call.
var table = map[string]roleSet{
	"set-up":      everybody,
	"sign-in":     everybody,
	"get-session": everybody,
	"sign-out":    everybody,

	"list-events":   signedIn,
	"create-event":  account,
	"restore-event": account,
	"get-event":     members,
	"update-event":  lead,
	"get-keys":      members, // of its own role

	"get-game":    members,
	"put-game":    lead,
	"get-prior":   lead,
	"put-prior":   lead,
	"drop-prior":  lead,
	"get-teams":   members,
	"put-teams":   lead,
	"get-matches": members,
	"put-matches": lead,

	"list-codes":    lead,
	"create-code":   lead,
	"revoke-code":   lead,
	"list-members":  staff,
	"rename-member": lead,
	"remove-member": lead,
	"list-held":     lead,
	"drop-held":     lead,

	"push":           sending, // of a device that is out it is kept apart
	"pull":           members,
	"watch-changes":  members,
	"put-blob":       members,
	"get-blob":       members,
	"get-photos":     members,
	"list-records":   members,
	"list-revisions": members,

	"import-data": lead,
	"export-data": lead,

	"get-estimates":   staff,
	"list-forecasts":  staff,
	"get-forecast":    staff,
	"get-standings":   staff,
	"get-calibration": staff,
	"what-if":         staff,
	"get-brief":       staff,
	"get-truth":       lead,
	"get-judgements":  staff,
	"advise":          staff,
	"get-knowledge":   staff,
	"get-bracket":     staff,
	"get-rota-goals":  lead,
	"plan-rota":       lead,

	"get-openapi":     everybody,
	"get-docs":        everybody,
	"get-game-schema": everybody,
	"get-health":      everybody,
	"get-readiness":   everybody,
	"get-app":         everybody,
}

// Allowed reports whether role may call the operation with this id.
func Allowed(operation string, role Role) bool {
	for _, r := range table[operation] {
		if r == role {
			return true
		}
	}
	return false
}

// Known reports whether the operation has a row in the table.
func Known(operation string) bool {
	_, ok := table[operation]
	return ok
}

// Operations returns the ids of all operations in the table, in no order.
func Operations() []string {
	ids := make([]string, 0, len(table))
	for id := range table {
		ids = append(ids, id)
	}
	return ids
}

// MayWrite reports whether role may send a revision of a record of this kind.
// A scout writes observations, judgements, trainings and pit reports (and only own ones, which
// the caller checks), a coach what belongs to the lists, the notes, the talk
// around a match and what is heard and tried before the selection, a lead everything.
func MayWrite(kind string, role Role) bool {
	switch role {
	case Lead:
		return true
	case Coach:
		return kind == "pit" || kind == "list" || kind == "entry" || kind == "note" || kind == "sketch" || kind == "agreement" || kind == "debrief" || kind == "pin" || kind == "rehearsal"
	case Scout:
		return kind == "observation" || kind == "judgement" || kind == "training" || kind == "pit"
	}
	return false
}
