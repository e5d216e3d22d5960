# SPDX-License-Identifier: MIT
# Varnish in front of cairn: one fetch a second and page for the whole crowd, everything else passed.
# Goes to /etc/varnish/default.vcl. Change the origin's address to suit. Varnish speaks no TLS:
# put it behind what does (nginx, or a load balancer).
#
# What makes it right:
#  - cairn itself says who may keep what: `s-maxage=1` on what the public sees, `private` or
#    `no-store` on the rest, `Vary` on what an answer depends on.
#  - a copy older than that is served for one more second at most while a new one is fetched;
#    only when the origin has been found dead, for an hour, with its age in `Age`.
#  - X-Forwarded-For is set to who asked, whatever it was before: by that address cairn counts wrong
#    keys and codes, so that a guesser is held up and nobody else. Behind another proxy that is the
#    other proxy for all: let that one talk to cairn itself, or use the PROXY protocol between them.
#  - nothing is ever piped: behind a pipe the rest of a connection would go past these rules. So
#    every subroutine below returns by itself where the built-in one would pipe.
vcl 4.1;

import std;

backend cairn {
    .host = "127.0.0.1";
    .port = "8080";
    .connect_timeout = 2s;
    .first_byte_timeout = 30s;
    .between_bytes_timeout = 90s; # event streams are heard at least each 30 seconds
    .probe = {
        .url = "/healthz";
        .interval = 1s;
        .timeout = 1s;
        .window = 3;
        .threshold = 2;
        .initial = 2;
    }
}

sub vcl_recv {
    # Codes and papers name the host as the reader did, and are kept by nobody. With all else it
    # counts for nothing: one name, one copy.
    if (req.url !~ "^/[^/]+/qr($|\?)" && req.url !~ "^/api/v1/events/[^/]+/paper/") {
        set req.http.Host = "cairn";
    }
    unset req.http.Forwarded;
    set req.http.X-Forwarded-For = client.ip;

    if (req.method != "GET" && req.method != "HEAD" && req.method != "POST" &&
        req.method != "PUT" && req.method != "OPTIONS" && req.method != "DELETE" &&
        req.method != "PATCH") {
        return (synth(405));
    }
    # Figures are for the origin's own machine.
    if (req.url ~ "^/metrics($|\?)") {
        return (synth(404));
    }
    if (req.method != "GET" && req.method != "HEAD") {
        return (pass);
    }
    if (req.http.Authorization || req.http.Cookie) {
        return (pass);
    }
    if (req.url ~ "^/api/v1/events/[^/]+/stream($|\?)") {
        return (pass);
    }
    # No more than a second of grace while the origin lives.
    if (std.healthy(req.backend_hint)) {
        set req.grace = 1s;
    }
    return (hash);
}

sub vcl_backend_response {
    # cairn names the time in everything that may be kept. What names none is not kept.
    if (beresp.http.Cache-Control !~ "s-maxage|immutable" ||
        beresp.http.Cache-Control ~ "private|no-store") {
        set beresp.uncacheable = true;
        set beresp.ttl = 1s;
        return (deliver);
    }
    set beresp.grace = 1h; # used only as far as vcl_recv lets it
    set beresp.keep = 1m;  # for asking again by tag
    return (deliver);
}

sub vcl_deliver {
    unset resp.http.X-Varnish;
    unset resp.http.Via;
    if (obj.hits > 0) {
        set resp.http.Cache-Status = "varnish; hit";
    }
    return (deliver);
}

sub vcl_pipe {
    return (synth(405));
}

# Errors of the proxy's own: short, no product told, and when to come again.
sub vcl_synth {
    call cairn_problem;
    return (deliver);
}

sub cairn_problem {
    set resp.http.Content-Type = "application/problem+json";
    set resp.http.Cache-Control = "no-store";
    if (resp.status == 503) {
        set resp.http.Retry-After = "2";
    }
    synthetic({"{"type":"about:blank","title":""} + resp.reason + {"","status":"} +
              resp.status + {"}
"});
}

sub vcl_backend_error {
    set beresp.http.Content-Type = "application/problem+json";
    set beresp.http.Cache-Control = "no-store";
    set beresp.http.Retry-After = "2";
    set beresp.ttl = 0s;
    set beresp.uncacheable = true;
    synthetic({"{"type":"about:blank","title":"The event's server does not answer","status":503}
"});
    return (deliver);
}
