/* main.c: the command line. */
#include <locale.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "cli/cli.h"
#include "ringtally/base/buf.h"

static const struct {
    const char *name;
    command *run;
    const char *about; /* in a line of the list of commands */
    const char *usage;
    const char *what;
} commands[] = {
    {"card", command_card, "the evening's bouts: a template, load, show, change",
     "card new [-o FILE]\n"
     "  ringtally card load FILE [--replace NAME]\n"
     "  ringtally card show [--format table|json] [--history]\n"
     "  ringtally card edit BOUT | swap BOUT [--yes] | drop BOUT [--yes]",
     "new writes a template with a remark on every key; load reads an evening's card into the\n"
     "database, and names all that is wrong in it at once; show lists it, and how each bout "
     "stands.\n"
     "Loading again replaces fields, so that a late replacement is one more load.\n"
     "edit is a form for one bout; a number that the card has not makes a new one.\n"
     "swap lets red and blue change places, where the card had them wrong: what is logged stays "
     "with\n"
     "its corner, and the log says so. drop takes a bout off the card on which nothing is logged.\n"
     "  --replace NAME   this fighter goes out although strikes are logged (load; may be "
     "repeated)\n"
     "  --card ID        another card than the newest (show)\n"
     "  --history        what the database has of both fighters, side by side (show)\n"
     "  --operator NAME  who changes it (your login name)"},
    {"rules", command_rules, "the rule sets there are, and what is in one",
     "rules list\n"
     "  ringtally rules show ID [--file]",
     "The rule sets there are, built in and your own (RULES.ini in "
     "$XDG_CONFIG_HOME/ringtally/rules).\n"
     "show says what is in one, and every key that a bout's `terms` can set.\n"
     "  --file           the file itself, with the sources of its values"},
    {"keys", command_keys, "the key maps there are, and one to start your own from",
     "keys list\n"
     "  ringtally keys show ID",
     "The key maps there are, for --keymap; show writes one, to start your own from."},
    {"desk", command_desk, "the console: tags a bout, at the ring or from a recording",
     "desk BOUT [--corner red|blue|both] [--operator NAME] [--shadow [--own-clock]]\n"
     "                 [--keymap NAME] [--keys FILE [--speed N|max] [--headless]] [--record FILE]\n"
     "                 [--no-bell] [--no-flash]\n"
     "  ringtally desk BOUT --watch [--keymap NAME]\n"
     "  ringtally desk BOUT --recording FILE | --player SOCKET [--looks]",
     "Opens the console on a bout, or resumes it.\n"
     "  --corner C       the corner that this desk tags (both)\n"
     "  --operator NAME  who tags (your login name)\n"
     "  --shadow         tag beside the official desk, as a check; --own-clock: not by its clock\n"
     "  --keymap NAME    us-qwerty, de-qwertz, fr-azerty, or a file of your own (us-qwerty)\n"
     "  --keys FILE      play a key script; any key takes over\n"
     "  --speed N|max    times real time (1)\n"
     "  --headless       without a screen\n"
     "  --record FILE    write the keys as a key script\n"
     "  --watch          show the panel, claim and write nothing\n"
     "  --recording FILE tag from a recording: mpv shows it, each entry gets the time of its "
     "frame.\n"
     "                   It is the count where nobody else tags the bout, else counted apart\n"
     "  --player SOCKET  the same with a player that runs already; --looks: it is a recorder "
     "beside\n"
     "                   this live desk, for second looks\n"
     "  --no-bell        alarms do not ring; --no-flash: nor does the clock flash. For always: "
     "bell "
     "= no\n"
     "                   and flash = no under [alarm] in ~/.config/ringtally/desk.ini"},
    {"counts", command_counts, "a bout's counts, for machines",
     "counts BOUT [--round N | --since WHAT | --last S] [--format table|json|csv]\n"
     "                   [--seen] [--follow [--heartbeat S]] [--bom]",
     "The counts, for machines.\n"
     "  --since WHAT     only what came since: bell, knockdown, R2, \"R2 1:30\" on the round "
     "clock, a\n"
     "                   moment (2026-12-05T20:15:30Z), or an entry as DESK.SEQ\n"
     "  --last S         only the last S seconds of running clock, over rests and stops\n"
     "  --seen           output over the time alone in which the view was not blocked (table; json "
     "and csv\n"
     "                   have both)\n"
     "  --follow         a line of JSON whenever something changed, until the pipe is closed\n"
     "  --heartbeat S    and a line that says who is alive, every so many seconds (5)\n"
     "  --bom            CSV begins with the mark by which some spreadsheets know UTF-8"},
    {"sheet", command_sheet, "the round sheet, for people; for a corner, with --for",
     "sheet BOUT [--round N] [--format text|markdown|csv|json|html] [--seen] [--cards] [--bom]\n"
     "                  [-o FILE]\n"
     "  ringtally sheet BOUT --for red|blue [--round N] [--format text|html] [-o FILE]",
     "The round sheet, for people.\n"
     "  --seen           output over the time alone in which the view was not blocked\n"
     "  --cards          the judges' cards too, where scoring is closed and nothing is announced\n"
     "  --for CORNER     the coach's page of one corner: what lands, what hurts, what changed"},
    {"remarks", command_remarks, "short sentences that a bout's numbers carry",
     "remarks BOUT [--round N] [--top K] [--format text|json]",
     "Short sentences about the bout that its numbers carry, newest first.\n"
     "  --top K          at most so many (all)\n"
     "JSON has the numbers behind each, and the query that gives them again."},
    {"marks", command_marks, "the moments to cut, in the recording's time code",
     "marks BOUT [--format webvtt|csv|edl|json] [--kinds LIST] [--rate R]\n"
     "                  [--start TIMECODE | --sync TIMECODE@MOMENT | --sync BOUT]\n"
     "                  [--lead-in S] [--lead-out S] [--top K] [--gap S] [--first-frame TIMECODE]\n"
     "                  [-o FILE]",
     "The moments to cut, in the recording's own time code (SMPTE ST 12-1).\n"
     "  --format F       csv unless said\n"
     "  --kinds LIST     of knockdown,spinning,jumping,incident,flag,exchange,flurry (all these),\n"
     "                   landed (every strike that did), bell (each round's beginning)\n"
     "  --rate R         23.976 24 25 29.97ndf 29.97df 30 50 59.94ndf 59.94df 60\n"
     "                   (the sync point's, else 25)\n"
     "  --start TC       time code of the bout's first bell (else the newest sync point counts)\n"
     "  --sync TC@MOMENT a time code and when it was, RFC 3339; --sync BOUT: another bout's sync\n"
     "                   point, of the same recording. Nothing is written: a signed bout stays so\n"
     "  --lead-in S      seconds shown before the moment (5)\n"
     "  --lead-out S     and after it (3)\n"
     "  --top K          how many exchanges (5): runs of strikes of both corners, most landed "
     "first\n"
     "  --gap S          longest gap within one (1.5)\n"
     "  --first-frame TC time code of the recording's first frame: WebVTT counts from there\n"
     "                   (00:00:00:00)\n"
     "It knows no gate: what a feed holds back is among them, for whoever is to look at it."},
    {"sync", command_sync, "notes the time code of a known moment, for marks",
     "sync BOUT --timecode TC [--rate R] [--at MOMENT | --now] [--operator NAME]",
     "Notes the time code read off the recording at a known moment: marks are reckoned from it.\n"
     "  --rate R         of the recording (25); as for marks\n"
     "  --at MOMENT      RFC 3339, 2026-12-05T20:15:30.250Z (now)"},
    {"drop", command_drop, "keeps small files current for graphics systems",
     "drop BOUT | --current --dir DIR [--since WHAT | --last S] [--osc HOST:PORT]\n"
     "                  [--every S] [--once] [--hold KINDS] [--delay S]",
     "Keeps a folder of small files current for graphics systems that watch one: counts.json,\n"
     "counts.csv, headline.json, a text file a figure, all of these in table.csv, table.xml and\n"
     "table.json, and status.json and manifest.json, which say whether they are.\n"
     "  --current        of the bout that is on: names stay, the bout changes\n"
     "  --since WHAT     and files of a window, red-window-landed.txt ...: as for counts\n"
     "  --last S         the same of the last S seconds of running clock\n"
     "  --osc HOST:PORT  each figure that changes also as a message of Open Sound Control over "
     "UDP,\n"
     "                   /ringtally/red-landed 27, and all of them every five seconds\n"
     "  --every S        how often it looks (0.25)\n"
     "  --once           write them once and leave\n"
     "  --hold KINDS     and --delay S: as for feed; what is held is \"held for review\" in "
     "held.txt"},
    {"history", command_history, "a fighter's bouts in this database",
     "history FIGHTER [--format table|json]",
     "A fighter's bouts in this database, each and in all. Case and accents do not matter, and "
     "the\n"
     "beginning of a word of the name is enough where only one fighter has it."},
    {"log", command_log, "every entry and correction: who, when, from what to what",
     "log BOUT [--round N] [--all] [--format table|csv|json] [--bom]",
     "The entries as they stand; with --all every correction too: who, when, from what to what."},
    {"feed", command_feed, "counts, pages and overlays over HTTP, live",
     "feed [--hub URI] [--listen ADDRESS:PORT] [--token-file FILE [--tokens FILE] [--qr]] [--cors "
     "ORIGINS]\n"
     "                 [--tls-cert FILE --tls-key FILE] [--rate N] [--max-age S]\n"
     "                 [--air-css FILE] [--hold KINDS] [--delay S]\n"
     "                 [--post URL --post-secret-file FILE]",
     "Serves the counts over HTTP, live, and a page that shows them, until it is ended.\n"
     "  --hub URI        of every card of a hub, from a replica too, in place of the database\n"
     "  --listen A:P     where (127.0.0.1:8080); any but a loopback address asks for a token\n"
     "  --token-file F   a file with the token, readable by you alone\n"
     "  --tokens F       a token for each device too, \"NAME TOKEN\" a line, readable by you "
     "alone; who\n"
     "                   comes by a one-time link is added there. A line taken out is cut off at "
     "once\n"
     "  --qr             draws the one-time link, for a tablet's camera\n"
     "  --cors ORIGINS   other sites whose pages may read, with commas between, or *\n"
     "  --tls-cert FILE  and --tls-key FILE: serve https\n"
     "  --rate N         requests a second from one address (100; from this machine 5000)\n"
     "  --max-age S      how long caches may keep a live document (1; 0: not)\n"
     "  --air-css FILE   fonts and colours of the overlays under /air/, in place of the built-in\n"
     "                   ones (/web/air.css shows those)\n"
     "  --hold KINDS     nobody is told of these until `release` lets them out: knockdowns,\n"
     "                   incidents, results, decisions, or all; with commas between\n"
     "  --delay S        all is told as it was S seconds ago, to go with a programme that is late\n"
     "  --post URL       posts each event there too, signed with the secret of --post-secret-file\n"
     "                   (readable by you alone), in order, again until it is answered with 2xx\n"
     "A proxy before it sends on Host: localhost, or the feed has a token."},
    {"move", command_move, "takes what was logged on the wrong bout to the right one",
     "move FROM TO [--round N] [--since WHAT] [--until WHAT] [--corner red|blue]\n"
     "                 [--operator NAME] [--yes]\n"
     "  ringtally move FROM TO --back [--yes]",
     "What was logged on the wrong bout goes to the right one: says what it will do, and asks. "
     "The\n"
     "sessions go over with their moments, offices and corrections; in the bout that they leave "
     "all\n"
     "of it is voided. The clock goes along where all goes and the other bout has had none yet. "
     "Scores,\n"
     "results and time codes stay. Nobody may have a desk open on FROM; a signed bout refuses.\n"
     "  --round N        only that round; --corner C: only that corner\n"
     "  --since WHAT     only from there on: as for counts; --until WHAT: only up to there\n"
     "  --back           what was moved last from FROM to TO comes back; what was changed since "
     "stays\n"
     "  --yes            does not ask"},
    {"release", command_release, "lets out what a feed or drop holds back",
     "release BOUT [WHAT --by NAME [--withdraw]]",
     "Lists what a gate (feed, drop --hold) can hold, and lets it out: an entry of the log with "
     "that\n"
     "name.\n"
     "  WHAT             an id of the list, a kind (knockdowns, incidents, results, decisions), "
     "all\n"
     "  --by NAME        who says so\n"
     "  --withdraw       off the air again\n"
     "A release covers what stands now; what is changed later waits anew."},
    {"hub", command_hub, "a league's evenings in one log, in PostgreSQL",
     "hub init URI\n"
     "  ringtally hub follow URI [--card CARD] [--wait] [--once]\n"
     "  ringtally hub status URI [--card CARD] [--format table|json]\n"
     "  ringtally hub same URI [NAME OTHER --by WHO [--not]]",
     "A league's log in PostgreSQL. URI is libpq's: postgresql://league@hub.example/league; a "
     "password\n"
     "comes from ~/.pgpass, and any host but this one must prove who it is (sslmode=verify-full).\n"
     "init makes the schema, or brings it up to date. follow runs beside the desks: it sends what "
     "the\n"
     "hub lacks, brings what others sent, and goes on by itself when the network is back. status "
     "says\n"
     "how far both are apart. same lists names that may be one person's; with two names it notes "
     "that\n"
     "they are (--not: are not), and history then goes over both.\n"
     "  --card CARD      this card only, also where it is not in the database yet (all that are)\n"
     "  --wait           for the hub also at the start\n"
     "  --once           leave when both have the same"},
    {"export-log", command_export_log, "a bout's whole log as JSON Lines",
     "export-log BOUT [-o FILE]",
     "Writes the bout's whole log as JSON Lines: to carry elsewhere, and to keep."},
    {"import-log", command_import_log, "loads an exported log, or a rescue file", "import-log FILE",
     "Loads an exported log or a rescue file; what is there already stays as it is."},
    {"merge", command_merge, "unites another database with this one", "merge OTHER.db",
     "Unions another database's cards, desks and entries into this one; nothing is counted twice."},
    {"backup", command_backup, "copies the database while desks write", "backup FILE",
     "Copies the whole database into a new file, while desks write. (A copy of the file alone "
     "lacks\n"
     "what is still in its -wal.)"},
    {"agree", command_agree, "how far two desks agree, or a desk and a recording",
     "agree BOUT --desk A --desk B [--desk C ...] [--window MS] [--format table|json]\n"
     "  ringtally agree BOUT --reference DESK [--desk LIVE] [--format table|json]",
     "How far two desks agree, strike by strike, or more desks with the first of them.\n"
     "  --reference D    the live count (or desk LIVE) held against the desk that tagged from the\n"
     "                   recording: what it had, missed, added and had wrong, its lag, its bias\n"
     "  --desk D         a desk by its name, or by the start of its uid\n"
     "  --window MS      how far apart on the round clock two strikes may be one (1000)"},
    {"practice", command_practice, "training, for fingers and eyes",
     "practice [fingers] [--level slow|bout|burst] [--seconds N] [--drill KEYS] [--seed N]\n"
     "  ringtally practice eyes BOUT --reference DESK --recording FILE\n"
     "  ringtally practice --report OPERATOR [--format text|json|html] [-o FILE]",
     "Practice, kept beside the bouts and never among them.\n"
     "  fingers          strikes are called on the screen, in the rhythm of a bout (bout, 120 s)\n"
     "  eyes             a recording plays, and what is tagged is held against its reference\n"
     "  --drill KEYS     only the strikes of these keys\n"
     "  --calls          print the calls as a key script; --keys FILE: answer by a script\n"
     "  --operator NAME, --keymap NAME, --rules ID\n"
     "  --report NAME    what NAME is ready for, progress, the pad, drills; what a level asks:\n"
     "                   practice/practice.ini in ~/.config/ringtally"},
    {"result", command_result, "how it ended, what the cards imply, what was announced",
     "result BOUT [--format text|json] [--operator NAME]\n"
     "                   [--ended HOW | --announce KIND [--vote R-B-E] [--referee NAME] "
     "[--override]]\n"
     "                   [--winner red|blue] [--round N] [--time M:SS] [--no-action]\n"
     "                   [--round-to red|blue|nobody --round N | --weights RED-BLUE]",
     "Shows what the judges' cards imply under the rules, and what was announced. It decides "
     "nothing.\n"
     "  --ended HOW      how the bout ended: distance, knockout, accidental ... (a wrong word "
     "lists them)\n"
     "  --announce KIND  the official result: majority_decision, tko_doctor ... (a wrong word "
     "lists them)\n"
     "  --winner CORNER  who won; with --ended intentional_foul: whom the foul injured\n"
     "  --no-action      with --ended: an official says that nothing happened in the unfinished\n"
     "                   round\n"
     "  --round-to C     a round that the officials gave to a corner, where rounds decide\n"
     "  --weights R-B    what both weigh that day, in kilograms, where that settles a round\n"
     "  --override       enter what the log contradicts; it is marked so"},
    {"scores", command_scores, "the judges' scores, from and to CSV",
     "scores load BOUT FILE [--operator NAME] | dump BOUT [-o FILE]",
     "The judges' scores as CSV: judge,round,red,blue,names."},
    {"sign", command_sign, "closes the record, and seals it",
     "sign BOUT --operator NAME [--key FILE] [--override] [--yes]",
     "Closes the record: from now on its sheets say who signed, and desks only show it. What is "
     "signed\n"
     "is sealed, so that `verify` finds what is changed later. Where no result is announced, or "
     "entries\n"
     "were not looked at, that is said, and asked about at a terminal (--yes answers).\n"
     "  --key FILE       the secret key that signs (your own, where `key new` made one; without "
     "any\n"
     "                   the seal has no key, and whoever changes the record can make it anew)\n"
     "  --override       sign a record that is not whole"},
    {"key", command_key, "makes or shows the key that signs",
     "key new [FILE]\n"
     "  ringtally key show [FILE]",
     "Makes the key that signs, for you alone, and prints its public key, by which others check.\n"
     "FILE: $XDG_CONFIG_HOME/ringtally/sign.key unless it is named."},
    {"verify", command_verify, "whether records are whole, and as they were signed",
     "verify [BOUT] [--key KEY]",
     "Says of each bout, in one line, whether its record is whole and as it was signed; of the "
     "file\n"
     "too. Exit 1 where anything is not.\n"
     "  --key KEY        only a record signed with this public key is as it should be"},
    {"reopen", command_reopen, "opens a signed record again",
     "reopen BOUT --operator NAME --reason TEXT",
     "Opens a signed record again; the reason stays in the log."},
};

static void usage(FILE *out)
{
    usage_print(out, "ringtally logs every strike of a bout, key by key, and counts them.\n\n"
                     "usage: ringtally [--db FILE] COMMAND ...\n\n");
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        fprintf(out, "  %-11s %s\n", commands[i].name, commands[i].about);
    }
    usage_print(out,
                "\nAn evening: card load FILE, desk 1, sheet 1 --round 1, sign 1 --operator YOU. "
                "`ringtally COMMAND --help` has the words of each.\n\n"
                "BOUT is CARDID/NUMBER, a bare number on the newest card, or, where it is read, "
                "now: the bout that is on. The database: --db, else RINGTALLY_DB, else the XDG "
                "data directory. counts, sheet, remarks, log and history take --hub URI in place "
                "of --db.\n\n"
                "Exit: 0 done, 1 failed, 2 the call's words are off.\n");
}

static int help_of(size_t i, struct error *err)
{
    struct buf text = BUF_INIT;
    buf_addf(&text, "usage: ringtally %s\n\n%s\n", commands[i].usage, commands[i].what);
    int code = text.failed ? error_memory(err) : 0;
    if (!code) {
        usage_print(stdout, text.text);
    }
    buf_release(&text);
    return code;
}

/* Whether a command that reads is asked of a hub in place of a database. */
static bool asks_hub(const struct call *call, command *asked)
{
    command *const readers[] = {command_counts, command_sheet, command_remarks, command_log,
                                command_history};
    bool reads = false, hub = false;
    for (size_t i = 0; i < sizeof readers / sizeof readers[0]; i++) {
        reads = reads || asked == readers[i];
    }
    for (int i = 0; i < call->count; i++) {
        hub = hub || strcmp(call->words[i], "--hub") == 0 ||
              strncmp(call->words[i], "--hub=", 6) == 0;
    }
    return reads && hub;
}

static int run(int argc, char **argv, struct error *err)
{
    struct call call = {.self = argv[0]};
    int at = 1;
    for (; at < argc && argv[at][0] == '-'; at++) {
        if (strcmp(argv[at], "--help") == 0 || strcmp(argv[at], "-h") == 0) {
            usage(stdout);
            return 0;
        }
        if (strcmp(argv[at], "--version") == 0) {
            puts("ringtally " RINGTALLY_VERSION);
            return 0;
        }
        if (strcmp(argv[at], "--db") == 0 && at + 1 < argc) {
            call.db = argv[++at];
        } else if (strncmp(argv[at], "--db=", 5) == 0 && argv[at][5]) {
            call.db = argv[at] + 5;
        } else {
            return error_set(err, ERROR_USAGE, "no such option, or no value: %s", argv[at]);
        }
    }
    if (at == argc) {
        return error_set(err, ERROR_USAGE, "a command is needed; --help lists them");
    }
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        if (strcmp(commands[i].name, argv[at]) == 0) {
            call.words = argv + at + 1;
            call.count = argc - at - 1;
            for (int word = 0; word < call.count; word++) {
                if (strcmp(call.words[word], "--help") == 0) {
                    return help_of(i, err);
                }
            }
            return asks_hub(&call, commands[i].run)
                       ? cli_launch(&call, "ringtally-hub", commands[i].name, err)
                       : commands[i].run(&call, err);
        }
    }
    return error_set(err, ERROR_USAGE, "no such command: %s; --help lists them", argv[at]);
}

int main(int argc, char **argv)
{
    struct error err = {0};
    setlocale(LC_ALL, "");
    setlocale(LC_NUMERIC, "C"); /* figures have a point everywhere */
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN); /* a file too large for the limit is a failed write */
    int code = run(argc, argv, &err);
    if (code) {
        fprintf(stderr, "ringtally: %s\n", err.text[0] ? err.text : "failed");
    }
    return code == 0 ? 0 : code == ERROR_USAGE ? 2 : 1;
}
