#!/bin/sh
# Makes the clips of these tests: FOLDER/25.mkv and so on, twelve seconds each. Sixteen squares in the upper half of
# the picture are the running frame number in binary, the lowest bit left; each hundredth frame is a flash and a beep.
set -eu
folder=$1
mkdir -p "$folder"
make_clip() {
    ffmpeg -v error -y -f lavfi -i "color=black:s=160x48:r=$2:d=12" \
        -f lavfi -i "aevalsrc='if(lt(mod(t*$2,100),1),0.5*sin(2500*t),0)':s=16000:d=12" \
        -vf "geq=lum='if(lt(Y,24),255*mod(floor(N/pow(2,floor(X/10))),2),if(eq(mod(N,100),0),255,40))':cb=128:cr=128" \
        -c:v libx264 -preset ultrafast -g 50 -bf 2 -pix_fmt yuv420p -c:a pcm_s16le "$folder/$1.mkv"
}
make_clip 25 25
make_clip 29.97 30000/1001
make_clip 59.94 60000/1001
# What is no recording, and what has no picture.
printf 'this is a text, and no video at all\n' >"$folder/no-video.mkv"
ffmpeg -v error -y -f lavfi -i "sine=d=2" "$folder/sound.wav"
