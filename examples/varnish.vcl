# The feed in front of any number of readers: varnishd -a :80 -f varnish.vcl -s malloc,200m
# How long each document may be kept, and that streams may not, the feed's own headers say.
vcl 4.1;

backend feed {
    .host = "127.0.0.1";
    .port = "8080";
}
